//! Packets on a byte stream.
