"""The general event loop: one replication of any traffic plan, by all of docs/semantics.md.

Where the loop for plain lines reckons ahead, this one goes instant by instant through the four parts of the section
"Beyond the plain loop": changes of state, carriers put in, gates, asks.
"""
