//! Whose packets must be authenticated, and which counters were heard. WIRE.md section 10.

use super::Receiver;
use super::event::{Full, Refusal};
use super::window::{Place, Window};
use crate::frame::{Frame, Kind, Serial};
use crate::packet::Header;
use crate::tag::{Key, Trailer};
use heapless::Vec;

/// What is kept of a head with a key. It outlives pairing: a head that is forgotten and comes back must not
/// be believed with what it said before.
#[derive(Debug, Clone)]
struct Keyed {
    key: Key,
    serial: Serial,
    counters: Window,
}

/// Keys by serial number.
#[derive(Debug, Clone)]
pub(super) struct Keyring<const HEADS: usize> {
    keys: Vec<Keyed, HEADS>,
}

impl<const HEADS: usize> Keyring<HEADS> {
    pub(super) const fn new() -> Self {
        Self { keys: Vec::new() }
    }

    fn find(&mut self, serial: Serial) -> Option<&mut Keyed> {
        self.keys.iter_mut().find(|keyed| keyed.serial == serial)
    }
}

impl<const HEADS: usize> Receiver<HEADS> {
    /// From now on the head with this serial number is believed only with tags of this key. `heard` is the
    /// newest counter that was believed of it, from non-volatile memory ([`Self::newest_counter`]): it and all before
    /// it are old. Without it (`None`) a packet from before a restart of the receiver would be believed once.
    ///
    /// # Errors
    /// [`Full`] when as many heads have keys as there are places.
    pub fn set_key(&mut self, serial: Serial, key: Key, heard: Option<u32>) -> Result<(), Full> {
        let counters = heard.map_or(Window::empty(-1), |heard| Window::full(i64::from(heard)));
        if let Some(keyed) = self.keyring.find(serial) {
            keyed.key = key;
            keyed.counters = counters;
            return Ok(());
        }
        let keyed = Keyed {
            key,
            serial,
            counters,
        };
        self.keyring.keys.push(keyed).map_err(|_| Full)
    }

    /// The head with this serial number is believed without tags again; false when it had no key.
    pub fn remove_key(&mut self, serial: Serial) -> bool {
        let before = self.keyring.keys.len();
        self.keyring.keys.retain(|keyed| keyed.serial != serial);
        self.keyring.keys.len() < before
    }

    /// The newest counter believed of a head with a key: what to keep in non-volatile memory. `None` before the
    /// first.
    #[must_use]
    pub fn newest_counter(&self, serial: Serial) -> Option<u32> {
        let keyed = self
            .keyring
            .keys
            .iter()
            .find(|keyed| keyed.serial == serial)?;
        u32::try_from(keyed.counters.newest()).ok()
    }

    /// Judge counter and tag, and hand on the packet as if it had none. WIRE.md W10.4.
    ///
    /// What comes from a head without a key is handed on as it is: there the bit has no meaning, and
    /// reading the body will refuse it.
    pub(super) fn authenticate<'p>(
        &mut self,
        packet: &'p [u8],
        header: Header,
        body: &'p [u8],
        place: Option<usize>,
    ) -> Result<(Header, &'p [u8]), Refusal> {
        if self.keyring.keys.is_empty() {
            return Ok((header, body));
        }
        let plain = header.plain();
        let (trailer, inner) = if header == plain {
            (None, Some(body))
        } else {
            let trailer = Trailer::cut(packet);
            (trailer, trailer.map(|trailer| trailer.body))
        };
        let serial = if plain.kind() == Some(Kind::Identity) {
            // An identity speaks for the serial number that it names, whatever its head id.
            match inner.map(|inner| plain.parse_body(inner)) {
                Some(Ok(Frame::Identity(identity))) => Some(identity.serial),
                _ => None,
            }
        } else {
            place
                .and_then(|place| self.heads.get(place))
                .map(|head| head.identity.serial)
        };
        let Some(keyed) = serial.and_then(|serial| self.keyring.find(serial)) else {
            return Ok((header, body));
        };
        let trailer = trailer.ok_or(Refusal::Forged)?;
        if !keyed.key.fits(trailer.covered, &trailer.tag) {
            return Err(Refusal::Forged);
        }
        let counter = i64::from(trailer.counter);
        match keyed.counters.place(counter) {
            Place::Heard | Place::Behind => Err(Refusal::Replayed),
            Place::Newer(_) | Place::Missed(_) => {
                keyed.counters.mark(counter);
                Ok((plain, trailer.body))
            }
        }
    }
}
