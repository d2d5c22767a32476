//! Any bytes as a packet, as they are and with a right check put behind them: what is taken apart must be
//! put together to the same bytes again, because a packet has one spelling only.
#![no_main]

use benchmast_protocol::packet::{MAX_PACKET, Packet, check};
use benchmast_protocol::tag::{Key, Trailer};
use libfuzzer_sys::fuzz_target;

fuzz_target!(|data: &[u8]| {
    judge(data);
    let sealed = [data, &check(data).to_be_bytes()].concat();
    judge(&sealed);
});

fn judge(bytes: &[u8]) {
    if let Some(trailer) = Trailer::cut(bytes) {
        assert!(!Key(*b"nobody's own key").fits(trailer.covered, &trailer.tag));
    }
    let Ok(packet) = Packet::parse(bytes) else {
        return;
    };
    let mut buffer = [0; MAX_PACKET];
    if packet.frame.is_legal() {
        assert_eq!(packet.emit(&mut buffer), Some(bytes));
        let tagged = packet
            .emit_tagged(&Key([7; 16]), 9, &mut buffer)
            .expect("room for a tag");
        assert!(
            Packet::parse(tagged).is_err(),
            "a tag is no part of the body"
        );
    }
}
