//! Packets of which only life, sequence number and counter matter.

use super::craft::{OBSERVATION, STATUS, TIPS, packet, typical};
use super::{A, Said};
use benchmast_protocol::frame::Identity;
use benchmast_protocol::packet::HeadId;

pub(super) fn obs_of(head: HeadId, life: u16, sequence: u16, tips: u16) -> Said {
    let mut numbers = typical(1);
    numbers[STATUS] = i64::from(life % 16);
    numbers[TIPS] = tips.into();
    (
        format!("observation of {head}: life {life}, sequence {sequence}, tips {tips}"),
        packet(1, head, sequence, &numbers),
    )
}

pub(super) fn obs(life: u16, sequence: u16, tips: u16) -> Said {
    obs_of(A, life, sequence, tips)
}

pub(super) fn report(restarts: u16, sequence: u16) -> Said {
    let mut numbers = typical(2);
    numbers[0] = restarts.into();
    (
        format!("health of {A}: restarts {restarts}, sequence {sequence}"),
        packet(2, A, sequence, &numbers),
    )
}

pub(super) fn identity(head: HeadId, identity: Identity) -> Said {
    identity_at(head, 0, identity)
}

pub(super) fn identity_at(head: HeadId, sequence: u16, identity: Identity) -> Said {
    let numbers = [
        identity.serial.0.cast_signed(),
        identity.hardware.into(),
        identity.fit.0.into(),
        identity.interval_s.into(),
        identity.bucket_um.into(),
    ];
    (
        format!(
            "identity of {head}: serial {}, interval_s {}, bucket_um {}, fit {}",
            identity.serial.0, identity.interval_s, identity.bucket_um, identity.fit.0
        ),
        packet(3, head, sequence, &numbers),
    )
}

/// Bytes with a word for people.
pub(super) fn named(says: &str, bytes: Vec<u8>) -> Said {
    (says.to_owned(), bytes)
}

/// An observation with one number changed.
pub(super) fn observation_with(sequence: u16, changes: &[(usize, i64)]) -> Said {
    let mut numbers = typical(1);
    let mut says = String::from("observation");
    for (field, number) in changes {
        numbers[*field] = *number;
        says.push_str(&format!(" {} {number}", OBSERVATION[*field].name));
    }
    (says, packet(1, A, sequence, &numbers))
}
