"""A share of what can be borne, in words: in per cent, and from twice on as a multiple."""

from kerfwright.basics.known import Estimate

_MULTIPLE = 2.0  #: from here on a number of per cent says less than a number of times


def share_words(*shares: float) -> list[str]:
    """One share, or a share and its ends, the unit behind the first: ``85 %``; ``26 times``, ``9``.

    Parameters
    ----------
    *shares : float
        Of the whole; the first says whether all are told in per cent or as multiples. [-]

    Returns
    -------
    list of str
        In the order given.
    """
    if shares[0] < _MULTIPLE:
        first, *rest = (_digits(share * 100.0, 0) for share in shares)
        return [f"{first} %", *rest]
    first, *rest = (_digits(share, 0 if share >= 9.95 else 1) for share in shares)
    return [f"{first} times", *rest]


def _digits(value: float, decimals: int) -> str:
    digits = f"{value:.{decimals}f}"
    return digits.lstrip("-") if float(digits) == 0.0 else digits.replace("-", "−")


def of_what(share: Estimate) -> str:
    """A share with its spread, before what it is a share of.

    ``85 % (40 to 180 %, nineteen times in twenty) of``, or
    ``26 times (9.2 to 60, nineteen times in twenty)``.
    """
    value, low, high = share_words(share.value, share.low, share.high)
    if value.endswith("%"):
        return f"{value} ({low} to {high} %, nineteen times in twenty) of"
    return f"{value} ({low} to {high}, nineteen times in twenty)"
