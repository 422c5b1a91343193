"""Powers and dioptres in the words of a sentence, with a minus that cannot be taken for a dash."""

__all__ = ["dioptre_words", "power_words"]

MINUS = "\u2212"


def power_words(power_d: float) -> str:
    """A lens power with its sign.

    Parameters
    ----------
    power_d : float [D]

    Returns
    -------
    str
        One decimal; two where the power is no multiple of a tenth, so that no box is misread.

    Example
    -------
    >>> power_words(20.0), power_words(-2.5), power_words(21.25)
    ('+20.0 D', '−2.5 D', '+21.25 D')
    """
    decimals = 1 if abs(10 * power_d - round(10 * power_d)) < 1e-6 else 2
    return f"{power_d + 0.0:+.{decimals}f} D".replace("-", MINUS)


def dioptre_words(value_d: float) -> str:
    """A refraction or a miss with its sign.

    Parameters
    ----------
    value_d : float [D]

    Returns
    -------
    str

    Example
    -------
    >>> dioptre_words(-0.35)
    '−0.35 D'
    """
    return f"{round(value_d, 2) + 0.0:+.2f} D".replace("-", MINUS)
