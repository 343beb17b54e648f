"""A kitchen as rough as real ones, for judging the ear; it shares nothing with the engine."""
