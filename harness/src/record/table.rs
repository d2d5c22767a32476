//! A table in memory: columns with names and units, filled row by row.

/// What a column holds and how it is shown.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Kind {
    /// Microseconds since 1970-01-01T00:00:00Z; never missing.
    Time,
    /// Whole steps of `numerator / denominator` of the unit; may be missing.
    Steps {
        /// Step, numerator.
        numerator: i32,
        /// Step, denominator: a power of ten.
        denominator: i32,
    },
    /// A real number, shown with this many decimals; not a number means missing.
    Real {
        /// Decimals in text.
        decimals: u32,
        /// Noise to its last bit, which no compression makes smaller.
        is_noise: bool,
    },
    /// A whole number; never missing.
    Count,
}

/// One column.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Column {
    /// Header.
    pub name: String,
    /// Unit in UDUNITS spelling, `1` for none.
    pub unit: String,
    /// CF standard name, where CF has one.
    pub cf_standard_name: Option<&'static str>,
    /// One line for people.
    pub title: String,
    /// What it holds.
    pub kind: Kind,
    /// Mask and meaning of each bit, for a column of flags; else empty.
    pub flags: Vec<(u64, &'static str)>,
}

/// The missing value of a [`Kind::Steps`] cell.
pub const MISSING_STEPS: i32 = i32::MIN;

/// The cells of one column of one block.
#[derive(Debug, Clone, PartialEq)]
pub enum Cells {
    /// Of [`Kind::Time`] and [`Kind::Count`].
    Whole(Vec<i64>),
    /// Of [`Kind::Steps`].
    Steps(Vec<i32>),
    /// Of [`Kind::Real`].
    Real(Vec<f32>),
}

/// Some rows of a table, column by column.
#[derive(Debug, Clone, PartialEq)]
pub struct Block {
    cells: Vec<Cells>,
    cursor: usize,
    rows: usize,
}

/// Rows that a block holds: one row group of a Parquet file, three days at 16 s. Not a power of two: then
/// the next cells of all columns would fall into the same few cache sets.
pub const BLOCK_ROWS: usize = 16_200;

impl Block {
    /// An empty block for these columns.
    #[must_use]
    pub fn new(columns: &[Column]) -> Self {
        let cells = columns
            .iter()
            .map(|column| match column.kind {
                Kind::Time | Kind::Count => Cells::Whole(Vec::with_capacity(BLOCK_ROWS)),
                Kind::Steps { .. } => Cells::Steps(Vec::with_capacity(BLOCK_ROWS)),
                Kind::Real { .. } => Cells::Real(Vec::with_capacity(BLOCK_ROWS)),
            })
            .collect();
        Self {
            cells,
            cursor: 0,
            rows: 0,
        }
    }

    /// Whole rows in the block.
    #[must_use]
    pub fn rows(&self) -> usize {
        self.rows
    }

    /// The cells, column by column.
    #[must_use]
    pub fn cells(&self) -> &[Cells] {
        &self.cells
    }

    /// Forget the rows, keep the room.
    pub fn clear(&mut self) {
        for cells in &mut self.cells {
            match cells {
                Cells::Whole(values) => values.clear(),
                Cells::Steps(values) => values.clear(),
                Cells::Real(values) => values.clear(),
            }
        }
        self.rows = 0;
        self.cursor = 0;
    }

    /// The next cell of the row, for a time or count column.
    pub fn whole(&mut self, value: i64) {
        if let Some(Cells::Whole(values)) = self.cells.get_mut(self.cursor) {
            values.push(value);
        } else {
            debug_assert!(false, "column {} is not whole", self.cursor);
        }
        self.cursor += 1;
    }

    /// The next cell of the row, for a column of steps.
    pub fn steps(&mut self, value: Option<i32>) {
        if let Some(Cells::Steps(values)) = self.cells.get_mut(self.cursor) {
            values.push(value.unwrap_or(MISSING_STEPS));
        } else {
            debug_assert!(false, "column {} does not hold steps", self.cursor);
        }
        self.cursor += 1;
    }

    /// The next cell of the row, for a column of real numbers.
    pub fn real(&mut self, value: f64) {
        if let Some(Cells::Real(values)) = self.cells.get_mut(self.cursor) {
            values.push(value as f32);
        } else {
            debug_assert!(false, "column {} is not real", self.cursor);
        }
        self.cursor += 1;
    }

    /// The row is complete.
    pub fn end_row(&mut self) {
        debug_assert_eq!(self.cursor, self.cells.len(), "row has the wrong length");
        self.cursor = 0;
        self.rows += 1;
    }

    /// Whether the block is to be written.
    #[must_use]
    pub fn is_full(&self) -> bool {
        self.rows >= BLOCK_ROWS
    }
}

/// Decimals that show one step of `1 / denominator`.
#[must_use]
pub fn decimals(denominator: i32) -> u32 {
    denominator.unsigned_abs().max(1).ilog10()
}
