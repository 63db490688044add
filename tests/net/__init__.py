"""The net under a large change: everything that plans, tables, notes, cards and messages say.

`names` says where each thing lives, `text` turns any answer into text, `pieces` holds what is
planned, `sections` collects the sections, and each other file holds the sections of its own name.
Run it by tests/same_plans.py.
"""
