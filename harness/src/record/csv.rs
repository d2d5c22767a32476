//! A table as RFC 4180 text.
//!
//! All cells are numbers or times, so nothing ever needs quoting and each row is put together in place.

use super::table::{Block, Cells, Column, Kind, MISSING_STEPS, decimals};
use std::io::{self, Write};

/// A table on its way into a text file.
pub(super) struct CsvTable<W: Write> {
    file: W,
    kinds: Vec<Kind>,
    text: Vec<u8>,
}

impl<W: Write> CsvTable<W> {
    /// Write the header row.
    pub(super) fn new(mut file: W, columns: &[Column]) -> io::Result<Self> {
        let names: Vec<_> = columns.iter().map(|column| column.name.as_str()).collect();
        file.write_all(names.join(",").as_bytes())?;
        file.write_all(b"\n")?;
        Ok(Self {
            file,
            kinds: columns.iter().map(|column| column.kind).collect(),
            text: Vec::new(),
        })
    }

    pub(super) fn write(&mut self, block: &Block) -> io::Result<()> {
        let columns: Vec<_> = block.columns().zip(self.kinds.iter().copied()).collect();
        for row in 0..block.rows() {
            for (place, (cells, kind)) in columns.iter().enumerate() {
                if place > 0 {
                    self.text.push(b',');
                }
                cell(&mut self.text, *cells, *kind, row);
            }
            self.text.push(b'\n');
            if self.text.len() > 1 << 16 {
                self.file.write_all(&self.text)?;
                self.text.clear();
            }
        }
        self.file.write_all(&self.text)?;
        self.text.clear();
        Ok(())
    }

    pub(super) fn finish(mut self) -> io::Result<W> {
        self.file.flush()?;
        Ok(self.file)
    }
}

fn cell(text: &mut Vec<u8>, cells: Cells<'_>, kind: Kind, row: usize) {
    match (cells, kind) {
        (Cells::Whole(values), Kind::Time) => time(text, values[row]),
        (Cells::Whole(values), _) => fixed(text, values[row], 0),
        (
            Cells::Steps(values),
            Kind::Steps {
                numerator,
                denominator,
            },
        ) if values[row] != MISSING_STEPS => {
            fixed(
                text,
                i64::from(values[row]) * i64::from(numerator),
                decimals(denominator),
            );
        }
        (Cells::Real(values), Kind::Real { decimals, .. }) if values[row].is_finite() => {
            let scale = 10_i64.pow(decimals) as f64;
            fixed(
                text,
                (f64::from(values[row]) * scale).round() as i64,
                decimals,
            );
        }
        _ => {}
    }
}

/// `value / 10^decimals`, exactly.
fn fixed(text: &mut Vec<u8>, value: i64, decimals: u32) {
    let mut digits = [b'0'; 24];
    let mut start = digits.len();
    let mut rest = value.unsigned_abs();
    let mut place = 0;
    while rest > 0 || place <= decimals {
        if decimals > 0 && place == decimals {
            start -= 1;
            digits[start] = b'.';
        }
        start -= 1;
        digits[start] = b'0' + (rest % 10) as u8;
        rest /= 10;
        place += 1;
    }
    if value < 0 {
        text.push(b'-');
    }
    text.extend_from_slice(&digits[start..]);
}

/// ISO 8601 in UTC with microseconds.
fn time(text: &mut Vec<u8>, time_us: i64) {
    if let Ok(stamp) = jiff::Timestamp::from_microsecond(time_us) {
        // Writing into memory cannot fail.
        let _ = write!(text, "{stamp:.6}");
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn column(name: &str, kind: Kind) -> Column {
        Column {
            name: name.into(),
            unit: "1".into(),
            cf_standard_name: None,
            title: name.into(),
            kind,
            flags: Vec::new(),
        }
    }

    #[test]
    fn cells_are_written_exactly() {
        let columns = [
            column("time", Kind::Time),
            column("n", Kind::Count),
            column(
                "t",
                Kind::Steps {
                    numerator: 1,
                    denominator: 100,
                },
            ),
            column(
                "rain",
                Kind::Steps {
                    numerator: 3,
                    denominator: 10,
                },
            ),
            column(
                "x",
                Kind::Real {
                    decimals: 2,
                    is_noise: false,
                },
            ),
        ];
        let mut block = Block::new(&columns);
        for (n, t, rain, x) in [
            (7, Some(-5), Some(2), -0.004),
            (0, Some(1234), None, 12.345),
            (65535, None, Some(0), f64::NAN),
        ] {
            let row = block.row().whole(1_775_001_600_000_320).whole(n);
            row.steps(t).steps(rain).real(x).end();
        }
        let mut table = CsvTable::new(Vec::new(), &columns).unwrap_or_else(|e| panic!("{e}"));
        table.write(&block).unwrap_or_else(|e| panic!("{e}"));
        let text = table.finish().unwrap_or_else(|e| panic!("{e}"));
        assert_eq!(
            String::from_utf8_lossy(&text),
            "time,n,t,rain,x\n\
             2026-04-01T00:00:00.000320Z,7,-0.05,0.6,0.00\n\
             2026-04-01T00:00:00.000320Z,0,12.34,,12.35\n\
             2026-04-01T00:00:00.000320Z,65535,,0.0,\n"
        );
    }
}
