"""The trade's closed forms and stocked parts: materials, threads, torque, springs, gaskets. No meshes.

Units inside: N, mm, MPa, K (degC for temperatures), N*mm for torque, radian for angles.
"""
