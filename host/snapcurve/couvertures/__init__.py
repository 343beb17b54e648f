"""Couvertures: what the maker of the chocolate says about it, as files a person can edit."""

from .couverture import Couverture
from .shelf import available, load, user_folder

__all__ = ["Couverture", "available", "load", "user_folder"]
