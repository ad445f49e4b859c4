"""Who there is: athletes, camps and stays from files, staff and their visits."""
