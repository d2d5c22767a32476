//! What is believed: the receiver's logic without input or output. WIRE.md section 7.
//!
//! Packets and the time go in ([`Receiver::handle_packet`], [`Receiver::handle_time`]), events come out
//! ([`Receiver::poll_event`]). Time is the caller's monotonic clock and may stand still, as when a
//! capture is played as fast as it can be read: it resolves sequence numbers after long silences and
//! says when a head is overdue, but nothing is refused because of it.

mod counter;
mod event;
mod head;
#[cfg(feature = "tags")]
mod keyring;
mod ledger;
mod window;

pub use event::{AdoptError, Believed, Event, Full, Micros, Refusal};

use crate::frame::{Frame, Identity, Kind, Serial};
use crate::packet::{HeadId, Header, ParseError};
use head::{Head, Watch};
use heapless::{Deque, Vec};
use ledger::{Entry, Verdict};

/// Most events one packet can cause: overdue until now, restarted, observation.
const EVENTS: usize = 3;

/// What a user may choose about a receiver.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Config {
    /// Reporting intervals without a believed packet after which a head is reported silent; 0 for never.
    pub silent_after: u16,
}

impl Default for Config {
    fn default() -> Self {
        Self { silent_after: 20 }
    }
}

/// The receiver: at most `HEADS` heads, in memory fixed when it is compiled.
///
/// After each `handle_*` call, poll events until there are none: the queue holds what one packet can
/// cause, and what does not fit is counted in [`Receiver::events_lost`] and dropped. What is believed
/// does not depend on polling.
///
/// ```
/// use benchmast_protocol::receiver::{Config, Event, Receiver, Refusal};
/// let mut receiver = Receiver::<4>::new(Config::default());
/// receiver.handle_packet(0, b"noise");
/// assert_eq!(receiver.poll_event(), Some(Event::Refused(Refusal::Damaged)));
/// assert_eq!(receiver.poll_event(), None);
/// ```
#[derive(Debug, Clone)]
pub struct Receiver<const HEADS: usize> {
    heads: Vec<Head, HEADS>,
    expected: Vec<Serial, HEADS>,
    #[cfg(feature = "tags")]
    keyring: keyring::Keyring<HEADS>,
    events: Deque<Event, EVENTS>,
    now: Micros,
    events_lost: u32,
    config: Config,
    open: bool,
}

impl<const HEADS: usize> Receiver<HEADS> {
    /// A receiver that knows no head and waits for none.
    #[must_use]
    pub const fn new(config: Config) -> Self {
        Self {
            heads: Vec::new(),
            expected: Vec::new(),
            #[cfg(feature = "tags")]
            keyring: keyring::Keyring::new(),
            events: Deque::new(),
            now: 0,
            events_lost: 0,
            config,
            open: false,
        }
    }

    /// Wait for the identity of the head with this serial number, and pair with it. A head that is
    /// paired already goes on being believed while it is waited for.
    ///
    /// # Errors
    /// [`Full`] when every place is taken or kept.
    pub fn expect(&mut self, serial: Serial) -> Result<(), Full> {
        if self.expected.contains(&serial) {
            return Ok(());
        }
        let known = self.heads.iter().any(|head| head.identity.serial == serial);
        if !known && self.free() == 0 {
            return Err(Full);
        }
        self.expected.push(serial).map_err(|_| Full)
    }

    /// Pair with every head that tells its identity while there is room: for a bench, not for a street.
    pub fn expect_any(&mut self, open: bool) {
        self.open = open;
    }

    /// Take up a head again that was paired before, from non-volatile memory. Its first observation has
    /// no base to count rain from. A head with this address or serial number that is paired already
    /// is replaced.
    ///
    /// # Errors
    /// See [`AdoptError`].
    pub fn adopt(&mut self, head: HeadId, identity: Identity) -> Result<(), AdoptError> {
        if !identity.is_legal() {
            return Err(AdoptError::Illegal);
        }
        let same = |other: &Head| other.id == head || other.identity.serial == identity.serial;
        let replaced = self.heads.iter().filter(|other| same(other)).count();
        if replaced == 0 && self.free() == 0 && !self.expected.contains(&identity.serial) {
            return Err(AdoptError::Full);
        }
        self.heads.retain(|other| !same(other));
        self.expected.retain(|serial| *serial != identity.serial);
        self.heads
            .push(Head::new(head, identity))
            .map_err(|_| AdoptError::Full)
    }

    /// Forget a paired head; false when there was none.
    pub fn forget(&mut self, head: HeadId) -> bool {
        let before = self.heads.len();
        self.heads.retain(|other| other.id != head);
        self.heads.len() < before
    }

    /// Judge the bytes of one packet.
    pub fn handle_packet(&mut self, now: Micros, bytes: &[u8]) {
        self.handle_time(now);
        if let Err(refusal) = self.judge(bytes) {
            self.tell(Event::Refused(refusal));
        }
    }

    /// Note that something arrived that is no packet, as [`crate::stream::Deframed::Damaged`] says.
    pub fn handle_damaged(&mut self, now: Micros) {
        self.handle_time(now);
        self.tell(Event::Refused(Refusal::Damaged));
    }

    /// Note the time. Needed for [`Event::Silent`] only; call it when [`Self::next_deadline`] has come.
    /// A time before the last one harms nothing.
    pub fn handle_time(&mut self, now: Micros) {
        self.now = now;
        for head in &mut self.heads {
            if head.watch == Watch::Unset {
                head.watch = Watch::Armed;
                head.last_heard = now;
            }
        }
    }

    /// What there is to tell, oldest first.
    pub fn poll_event(&mut self) -> Option<Event> {
        if self.events.is_empty() {
            let (config, now) = (self.config, self.now);
            let head = self
                .heads
                .iter_mut()
                .find(|head| head.is_overdue(config, now))?;
            head.watch = Watch::Told;
            return Some(Event::Silent {
                head: head.id,
                last_heard: head.last_heard,
            });
        }
        self.events.pop_front()
    }

    /// When the next head will be overdue, unless it is heard before.
    #[must_use]
    pub fn next_deadline(&self) -> Option<Micros> {
        self.heads
            .iter()
            .filter_map(|head| head.deadline(self.config))
            .min()
    }

    /// The paired heads and their settings: what to keep in non-volatile memory.
    pub fn paired(&self) -> impl Iterator<Item = (HeadId, Identity)> + '_ {
        self.heads.iter().map(|head| (head.id, head.identity))
    }

    /// The serial numbers that are waited for.
    #[must_use]
    pub fn expected(&self) -> &[Serial] {
        &self.expected
    }

    /// Settings of a paired head.
    #[must_use]
    pub fn identity(&self, head: HeadId) -> Option<Identity> {
        self.find(head).map(|head| head.identity)
    }

    /// When a paired head was last believed, or taken up; `None` too before any time was told.
    #[must_use]
    pub fn last_heard(&self, head: HeadId) -> Option<Micros> {
        self.find(head)
            .filter(|head| head.watch != Watch::Unset)
            .map(|head| head.last_heard)
    }

    /// Sum of all tips told in events since pairing, across restarts of the head.
    #[must_use]
    pub fn tips_believed(&self, head: HeadId) -> Option<u64> {
        self.find(head).map(|head| head.tips_believed)
    }

    /// Depth of [`Self::tips_believed`], micrometres, each tip at the bucket size of its time.
    #[must_use]
    pub fn rain_um_believed(&self, head: HeadId) -> Option<u64> {
        self.find(head).map(|head| head.rain_um_believed)
    }

    /// Events dropped because nobody polled.
    #[must_use]
    pub fn events_lost(&self) -> u32 {
        self.events_lost
    }

    fn find(&self, id: HeadId) -> Option<&Head> {
        self.heads.iter().find(|head| head.id == id)
    }

    /// Places neither taken nor kept.
    fn free(&self) -> usize {
        let kept = self.expected.iter().filter(|serial| {
            !self
                .heads
                .iter()
                .any(|head| head.identity.serial == **serial)
        });
        HEADS
            .saturating_sub(self.heads.len())
            .saturating_sub(kept.count())
    }

    fn tell(&mut self, event: Event) {
        if self.events.push_back(event).is_err() {
            self.events_lost = self.events_lost.saturating_add(1);
        }
    }

    /// The order of these steps is normative: WIRE.md W7.1.
    fn judge(&mut self, bytes: &[u8]) -> Result<(), Refusal> {
        let (header, body) = Header::parse(bytes).map_err(refusal)?;
        let kind = header.plain().kind().ok_or(Refusal::Malformed)?;
        let place = self.heads.iter().position(|head| head.id == header.head);
        if place.is_none() && kind != Kind::Identity {
            return Err(Refusal::UnknownHead(header.head));
        }
        #[cfg(feature = "tags")]
        let (header, body) = self.authenticate(bytes, header, body, place)?;
        let frame = header.parse_body(body).map_err(refusal)?;
        if !frame.is_legal() {
            return Err(Refusal::Implausible);
        }
        let entry = match &frame {
            Frame::Identity(identity) => return self.identify(header, *identity, place),
            Frame::Observation(observation) => Entry {
                life: observation.status.life(),
                sequence: header.sequence,
                tips: Some(observation.tips),
            },
            Frame::Health(health) => Entry {
                life: (health.restarts & 0x0F) as u8,
                sequence: header.sequence,
                tips: None,
            },
        };
        self.enter(header, frame, entry, place)
    }

    /// Ask the head's ledger, and tell what it says.
    fn enter(
        &mut self,
        Header {
            head: id, sequence, ..
        }: Header,
        frame: Frame,
        entry: Entry,
        place: Option<usize>,
    ) -> Result<(), Refusal> {
        let (config, now) = (self.config, self.now);
        let head = place
            .and_then(|place| self.heads.get_mut(place))
            .ok_or(Refusal::UnknownHead(id))?;
        match head.ledger.judge(entry, now, head.pace()) {
            Verdict::Refused(why) => return Err(why),
            Verdict::Duplicate => self.tell(Event::Duplicate { head: id, sequence }),
            Verdict::Late {
                intervals_late,
                tips_since,
            } => {
                let tips_since = if head.has_rain_gauge() { tips_since } else { 0 };
                let rain_um = head.count(tips_since);
                self.tell(Event::Late {
                    head: id,
                    sequence,
                    intervals_late,
                    frame,
                    tips_since,
                    rain_um,
                });
            }
            Verdict::New {
                restarted,
                tips_since,
                intervals_missed,
            } => {
                let tips_since = tips_since.filter(|_| head.has_rain_gauge());
                let rain_um = tips_since.map(|tips| head.count(tips));
                let overdue = head.is_overdue(config, now).then_some(head.last_heard);
                head.last_heard = now;
                head.watch = Watch::Armed;
                if let Some(last_heard) = overdue {
                    self.tell(Event::Silent {
                        head: id,
                        last_heard,
                    });
                }
                if restarted {
                    self.tell(Event::Restarted {
                        head: id,
                        life: entry.life,
                    });
                }
                match frame {
                    Frame::Observation(observation) => self.tell(Event::Observation(Believed {
                        head: id,
                        sequence,
                        observation,
                        tips_since,
                        rain_um,
                        intervals_missed,
                    })),
                    Frame::Health(health) => self.tell(Event::Health {
                        head: id,
                        sequence,
                        health,
                    }),
                    Frame::Identity(_) => {}
                }
            }
        }
        Ok(())
    }

    /// An identity: pair, take over changed settings, or note that nothing is new. WIRE.md W7.2.
    fn identify(
        &mut self,
        Header {
            head: id, sequence, ..
        }: Header,
        identity: Identity,
        place: Option<usize>,
    ) -> Result<(), Refusal> {
        let (config, now) = (self.config, self.now);
        let expected = self.expected.contains(&identity.serial);
        if let Some(head) = place.and_then(|place| self.heads.get_mut(place))
            && head.identity.serial == identity.serial
        {
            let overdue = head.is_overdue(config, now).then_some(head.last_heard);
            let changed = head.identity != identity;
            head.identity = identity;
            head.last_heard = now;
            head.watch = Watch::Armed;
            self.expected.retain(|serial| *serial != identity.serial);
            if let Some(last_heard) = overdue {
                self.tell(Event::Silent {
                    head: id,
                    last_heard,
                });
            }
            self.tell(if changed || expected {
                Event::Paired { head: id, identity }
            } else {
                Event::Duplicate { head: id, sequence }
            });
            return Ok(());
        }
        let serial_known = self
            .heads
            .iter()
            .any(|head| head.identity.serial == identity.serial);
        let open = self.open && place.is_none() && !serial_known && self.free() > 0;
        if !expected && !open {
            return Err(Refusal::UnknownHead(id));
        }
        self.adopt(id, identity)
            .map_err(|_| Refusal::UnknownHead(id))?;
        self.handle_time(now);
        self.tell(Event::Paired { head: id, identity });
        Ok(())
    }
}

fn refusal(error: ParseError) -> Refusal {
    match error {
        ParseError::Damaged => Refusal::Damaged,
        ParseError::UnknownVersion(version) => Refusal::UnknownVersion(version),
        ParseError::Malformed => Refusal::Malformed,
    }
}
