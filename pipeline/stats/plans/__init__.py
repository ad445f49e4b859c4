"""Is a weight plan working? Weigh-ins, the filter's rates, reviews, alarms, what else could be."""
