"""What people read and look at: tables of setups, what holds them, the vehicle at rest, pictures. Nothing is computed
here that a result or the engine does not already say.
"""
