"""From converter chip to corrected temperature."""
