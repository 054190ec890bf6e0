"""New rows against stored ones: new, repeated, corrected or contradicted."""
