"""A power chuck on its cylinder: what its plates promise. Units: mm, N, MPa."""


def grip_per_pressure(max_grip: float, max_draw: float, piston_area: float) -> float:
    """Total static grip per pressure that the plates promise: (max grip / max draw) x piston area. [N/MPa]

    Forces [N]; piston area of the direction that grips [mm2].  The plate ratio stands for the wedge and its friction
    when clean and greased.  Source: common practice, no source.
    """
    return max_grip / max_draw * piston_area


def height_share(grip_height: float, reference_height: float) -> float:
    """Share of the plate's draw force allowed for jaws gripping higher than the plate's reference height [mm].

    The allowed force falls as the moment arm grows: reference / height, never above 1.  Source: common practice, no
    source.
    """
    return min(1.0, reference_height / grip_height)
