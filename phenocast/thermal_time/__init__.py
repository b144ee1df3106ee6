"""Temperature responses, degree-hours with upper cut-offs, stress, photoperiod and chilling."""
