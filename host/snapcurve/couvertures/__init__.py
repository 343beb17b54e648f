"""Couvertures: what the maker of the chocolate says about it, as files a person can edit."""

from snapcurve.couvertures.model import Couverture
from snapcurve.couvertures.shelf import available, load, user_folder

__all__ = ["Couverture", "available", "load", "user_folder"]
