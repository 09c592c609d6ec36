"""Traffic: the plan of a line, and the one set of rules by which its carriers go."""
