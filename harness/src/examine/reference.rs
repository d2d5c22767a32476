//! The protocol crate's own receiver as one under examination: it answers for the cases, and is the oracle
//! of those that nobody has written by hand.

use super::judge::{Answer, Examinee, Trouble};
use super::script::{Case, Input, PLACES, Setup, Step};
use super::told::Told;
use benchmast_protocol::packet::HeadId;
use benchmast_protocol::receiver::{Config, Receiver};
use benchmast_protocol::stream::{Deframed, Deframer};

/// The receiver of the protocol crate, and what it stands on.
#[derive(Debug)]
pub struct Reference {
    receiver: Receiver<PLACES>,
    deframer: Deframer,
}

impl Reference {
    /// A receiver at the beginning of a case.
    #[must_use]
    pub fn new(setup: &Setup) -> Self {
        let mut receiver = Receiver::new(Config {
            silent_after: setup.silent_after,
        });
        for (head, identity) in &setup.adopted {
            // A case that adopts more heads than there is room for examines nothing; a test sees to that.
            let _ = receiver.adopt(*head, *identity);
        }
        for keyed in &setup.keys {
            let _ = receiver.set_key(keyed.serial, keyed.key, keyed.heard);
        }
        Self {
            receiver,
            deframer: Deframer::new(),
        }
    }

    /// What it says to what happens.
    pub fn hear(&mut self, t_us: u64, input: &Input, said: &mut Vec<Told>) {
        match input {
            Input::Packet(bytes) => self.receiver.handle_packet(t_us, bytes),
            Input::Tick => self.receiver.handle_time(t_us),
            Input::Expect(serial) => {
                let _ = self.receiver.expect(*serial);
            }
            Input::Pairing(open) => self.receiver.expect_any(*open),
            Input::Stream(bytes) => {
                let mut rest = bytes.as_slice();
                while let Some(frame) = self.deframer.push_from(&mut rest) {
                    match frame {
                        Deframed::Packet(packet) => self.receiver.handle_packet(t_us, packet),
                        Deframed::Damaged => self.receiver.handle_damaged(t_us),
                    }
                    poll(&mut self.receiver, said);
                }
                self.receiver.handle_time(t_us);
            }
        }
        poll(&mut self.receiver, said);
    }

    /// Tips told of a head.
    #[must_use]
    pub fn tips_of(&self, head: HeadId) -> u64 {
        self.receiver.tips_believed(head).unwrap_or(0)
    }
}

fn poll(receiver: &mut Receiver<PLACES>, said: &mut Vec<Told>) {
    while let Some(event) = receiver.poll_event() {
        said.push(Told::of(&event));
    }
}

/// Itself under examination: it shows no fields, which its own types answer for.
impl Examinee for Reference {
    fn open(&mut self, case: &Case) -> Result<Option<String>, Trouble> {
        *self = Self::new(&case.setup);
        Ok(None)
    }
    fn take(&mut self, step: &Step, answer: &mut Answer) -> Result<(), Trouble> {
        answer.events.clear();
        answer.fields = None;
        self.hear(step.t_us, &step.input, &mut answer.events);
        Ok(())
    }
    fn tips(&mut self) -> Result<Option<Vec<(HeadId, u64)>>, Trouble> {
        let tips = self.receiver.paired().map(|(head, _)| {
            let tips = self.receiver.tips_believed(head).unwrap_or(0);
            (head, tips)
        });
        Ok(Some(tips.collect()))
    }
    fn close(&mut self) -> Result<(), Trouble> {
        Ok(())
    }
}
