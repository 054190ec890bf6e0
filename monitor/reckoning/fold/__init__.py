"""The fold: one press over one plant day, from readings and carry to facts and the next carry."""
