"""How long a test waits for something that has to come before it takes it for hung.

It decides nothing but that: a busy machine may take many times as long as a quiet one.
"""

LONGEST_S = 1200
