"""The line file and the conveyor sheet: text, units, places, the frozen validated model, demand, starting patterns."""
