"""What a line costs: its parts, and what it saves beside a belt line that makes as much."""
