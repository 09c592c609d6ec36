"""A document for people: blocks of words, tables and pictures, written alike as PDF and as one HTML page."""
