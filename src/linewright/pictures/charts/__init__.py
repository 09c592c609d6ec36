"""Pictures of one thing each: what the line cycle is made of, the rate over carriers, a move, an error, a current."""
