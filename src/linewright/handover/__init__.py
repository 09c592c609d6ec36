"""Handover: an Evaluation written for a person or for another program."""
