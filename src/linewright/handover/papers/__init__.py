"""The papers that a builder gives away: what they are written from, and each of them."""
