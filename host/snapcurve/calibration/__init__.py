"""The probe's calibration and how far a reading can be trusted."""
