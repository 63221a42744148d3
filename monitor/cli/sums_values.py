"""Arguments of the sums that hold several values in one word."""

import argparse


def jar_reading(text: str) -> tuple[float, float, bool]:
    """GRAMS=VALUE or GRAMS=VALUE@cloudy: stock so far, what was read, whether it was clear."""
    head, _, look = text.partition("@")
    stock_g, _, value = head.partition("=")
    try:
        if look not in ("", "clear", "cloudy"):
            raise ValueError("no such look")
        return float(stock_g), float(value), look != "cloudy"
    except ValueError:
        raise argparse.ArgumentTypeError(f"it is {text!r}; it must be like 2=9.8 or 2=9.8@cloudy") from None


def addition(text: str) -> tuple[str, float, float]:
    """WHAT=PERCENT/MOST."""
    what, _, shares = text.rpartition("=")
    percent, _, most = shares.partition("/")
    try:
        return named(what), float(percent), float(most)
    except ValueError:
        raise argparse.ArgumentTypeError(f"it is {text!r}; it must be like scent=1/2") from None


def named(name: str) -> str:
    """The name without its outer blanks. Raises ValueError for none."""
    if not name.strip():
        raise ValueError("no name")
    return name.strip()
