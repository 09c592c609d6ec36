"""The dossier: the answer on page one, then all that it rests on, a chapter a module."""
