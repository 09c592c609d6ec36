"""The pages that commands print on a terminal, their JSON, and the folders of `rate` and `draw`."""
