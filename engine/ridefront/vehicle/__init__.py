"""From parameter arrays to equations of motion: one rigid body on one, two or four corners.

    laws        force laws as slope and hinges, and their linearisation
    elements    springs, stops, dampers: a study's keys as laws at the wheel
    body        masses, loads, inertia, shares of the corners
    sides       left and right: beams, anti-roll bars, loads to one side
    static      how the vehicle sits under each load
    equations   matrices and modes about that position

Arrays in, arrays out, designs along the first axis. Roads, responses and files are other rooms' business.
"""

from ridefront.vehicle.body import Load, LoadMass, Model, Seat, model_of

__all__ = ["Load", "LoadMass", "Model", "Seat", "model_of"]
