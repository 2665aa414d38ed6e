"""The pages of readings: indicator, feeler and bluing, part after part."""
