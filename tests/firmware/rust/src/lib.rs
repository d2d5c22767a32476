//! The board: two serial lines, a counter of instructions, and how deep the stack went.
#![no_std]

use core::fmt;
use core::panic::PanicInfo;
use core::ptr::{read_volatile, with_exposed_provenance_mut, write_volatile};

/// Serial number of the head that this receiver waits for.
pub const SERIAL: u64 = 1_000_005_400;

/// The printing of numbers can panic as far as the compiler knows; the receiver cannot.
#[panic_handler]
fn stop(_: &PanicInfo<'_>) -> ! {
    loop {}
}

fn peek(address: usize) -> u32 {
    // SAFETY: every caller names a register of this board, which is always there and aligned.
    unsafe { read_volatile(with_exposed_provenance_mut(address)) }
}

fn poke(address: usize, value: u32) {
    // SAFETY: every caller names a register of this board; none of those written here moves memory.
    unsafe { write_volatile(with_exposed_provenance_mut(address), value) }
}

/// A PL011 serial line (ARM DDI 0183), polled.
#[derive(Debug, Clone, Copy)]
pub struct Uart(usize);

impl Uart {
    /// What the head sends comes in here.
    pub const AIR: Self = Self(0x4000_C000);
    /// What is believed is told here.
    pub const DESK: Self = Self(0x4000_D000);
    const FLAGS: usize = 0x18;
    const NOTHING_IN: u32 = 1 << 4;
    const OUT_FULL: u32 = 1 << 5;

    /// Eight bits, with queues, on.
    pub fn open(self) -> Self {
        poke(self.0 + 0x2C, 0x70);
        poke(self.0 + 0x30, 0x301);
        self
    }

    /// Wait for a byte.
    pub fn read(self) -> u8 {
        while peek(self.0 + Self::FLAGS) & Self::NOTHING_IN != 0 {}
        peek(self.0) as u8
    }

    /// Send a byte.
    pub fn write(self, byte: u8) {
        while peek(self.0 + Self::FLAGS) & Self::OUT_FULL != 0 {}
        poke(self.0, u32::from(byte));
    }

    /// Send a name, a number and the end of a line.
    pub fn tell(self, name: &str, mut number: u64) {
        for byte in name.bytes() {
            self.write(byte);
        }
        self.write(b' ');
        let mut digits = [b'0'; 20];
        let mut count = 0;
        for place in &mut digits {
            *place = b'0' + (number % 10) as u8;
            number /= 10;
            count += 1;
            if number == 0 {
                break;
            }
        }
        for digit in digits.iter().take(count).rev() {
            self.write(*digit);
        }
        self.write(b'\n');
    }
}

impl fmt::Write for Uart {
    fn write_str(&mut self, text: &str) -> fmt::Result {
        text.bytes().for_each(|byte| self.write(byte));
        Ok(())
    }
}

/// The system timer. The emulator lets the same time pass for every instruction, so it counts instructions; how many ticks one
/// takes is measured.
#[derive(Debug)]
pub struct Counter;

impl Counter {
    const CONTROL: usize = 0xE000_E010;
    const RELOAD: usize = 0xE000_E014;
    const VALUE: usize = 0xE000_E018;
    const CLOCKS: usize = 0x400F_E060;
    const WIDTH: u32 = 0x00FF_FFFF;

    /// Start it, at the fastest clock of the board: 5 ns a tick.
    pub fn start() -> Self {
        poke(Self::CLOCKS, peek(Self::CLOCKS) & !(0xF << 23));
        poke(Self::RELOAD, Self::WIDTH);
        poke(Self::VALUE, 0);
        poke(Self::CONTROL, 0b101);
        Self
    }

    /// Ticks until it begins anew.
    pub fn now(&self) -> u32 {
        peek(Self::VALUE)
    }

    /// Ticks between two readings.
    pub fn since(earlier: u32, later: u32) -> u64 {
        u64::from(earlier.wrapping_sub(later) & Self::WIDTH)
    }
}

/// Deepest that the stack ever was, bytes: below, it is as it was painted before the start.
pub fn stack_depth() -> u32 {
    const PAINT: u32 = 0xCCCC_CCCC;
    unsafe extern "C" {
        static _stack_end: u32;
        static _stack_start: u32;
    }
    let (mut at, top) = (
        (&raw const _stack_end).addr(),
        (&raw const _stack_start).addr(),
    );
    while at < top && peek(at) == PAINT {
        at += 4;
    }
    (top - at) as u32
}
