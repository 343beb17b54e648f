"""The board on the desk: the real firmware with a modelled chip, fed by a bench or a tape."""
