"""The proof of the traffic: can the carriers of a line come to stand for ever?"""
