"""What changed between test days at a player-development camp, how sure that is, and what it goes with."""
