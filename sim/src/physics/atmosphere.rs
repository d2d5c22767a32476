//! Pressure with height: the standard atmosphere, reduction to sea level, tides.
