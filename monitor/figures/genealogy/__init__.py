"""From coil to container and back: trace, exposure, holds."""
