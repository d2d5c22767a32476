//! The head's arrow does not point where it should.

use super::{Card, Fault};

/// The arrow is turned clockwise by up to half a circle.
pub(super) const FAULT: Fault = Fault {
    id: "arrow_misaligned",
    full_severity: "arrow turned by 180 degrees clockwise",
    moves: &["wind_from_direction"],
    stops_head: false,
    card: Card {
        what: "The head's arrow is not on the prescribed compass direction.",
        signature: "Wind direction off by the same signed amount at all speeds and hours.",
        look_alikes: "Magnetic instead of true north: the offset equals the local declination. A slipping \
            clamp: the offset changes after gusts. For a half turn compare with a sea breeze or a front.",
        field_check: "Sight along the arrow with a compass from 5 m away, or use the mast's shadow at solar noon.",
        remedy: "Loosen the clamp, turn the head, tighten it, and let a second person confirm.",
        caution: "The steel mast disturbs a compass: stand clear of it. Lower the mast rather than climb; no \
            mast work in wind or near overhead lines.",
        source: "WMO-No. 8 Vol. I ch. 5; a published data-quality report of a re-aligned vane (45 to 90 degrees)",
    },
    apply: |condition, severity| condition.arrow_azimuth_deg += 180.0 * severity,
};
