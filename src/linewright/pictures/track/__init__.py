"""The track chart: rows that all stand on one axis, the track unrolled."""
