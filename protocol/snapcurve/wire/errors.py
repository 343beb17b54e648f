"""The one error of the wire."""


class WireError(Exception):
    """Bytes or values that break the catalogue.

    ``code`` is a word of catalogue.ERROR_CODES; ``field`` the position of the offending
    field in its message, or catalogue.NO_FIELD.
    """

    def __init__(self, code: str, field: int = 255):
        super().__init__("%s (field %d)" % (code, field))
        self.code = code
        self.field = field
