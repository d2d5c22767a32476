//! Any bytes as a stream: cut anywhere it gives the same frames, and each frame is put back to what it was
//! cut from.
#![no_main]

use benchmast_protocol::packet::MAX_PACKET;
use benchmast_protocol::stream::{Deframed, Deframer, MAX_ENCODED, encode};
use libfuzzer_sys::fuzz_target;

fuzz_target!(|data: &[u8]| {
    let (cuts, stream) = data.split_at(data.len() / 8);
    let bytewise = frames(stream.chunks(1));
    assert_eq!(bytewise, frames([stream].into_iter()));
    let mut rest = stream;
    let torn = cuts.iter().map(|cut| {
        let (piece, after) = rest.split_at(usize::from(*cut).min(rest.len()));
        rest = after;
        piece
    });
    let mut torn: Vec<&[u8]> = torn.collect();
    torn.push(rest);
    assert_eq!(bytewise, frames(torn.into_iter()));
    for packet in bytewise.into_iter().flatten() {
        assert!(packet.len() <= MAX_PACKET);
        let mut buffer = [0; MAX_ENCODED];
        let Some(again) = encode(&packet, &mut buffer) else {
            // A frame that stands for no bytes is one that nobody sends.
            assert!(packet.is_empty());
            continue;
        };
        assert_eq!(frames([again].into_iter()), [Some(packet)]);
    }
});

/// Each frame: its bytes, or `None` for a damaged one.
fn frames<'a>(pieces: impl Iterator<Item = &'a [u8]>) -> Vec<Option<Vec<u8>>> {
    let mut deframer = Deframer::new();
    let mut frames = Vec::new();
    for mut piece in pieces {
        while let Some(frame) = deframer.push_from(&mut piece) {
            frames.push(match frame {
                Deframed::Packet(bytes) => Some(bytes.to_vec()),
                Deframed::Damaged => None,
            });
        }
    }
    frames
}
