"""Looks at the machine for what makes serial gauges and logbooks go wrong, and says the exact fix.

`port_facts` and `machine_facts` read; `ports` and `machine` judge what was read, and touch nothing.
"""
