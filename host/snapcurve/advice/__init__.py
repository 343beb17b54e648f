"""Plans and corrections: sentences and grams from the heat balance."""
