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
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Cells<'b> {
    /// Of [`Kind::Time`] and [`Kind::Count`].
    Whole(&'b [i64]),
    /// Of [`Kind::Steps`].
    Steps(&'b [i32]),
    /// Of [`Kind::Real`].
    Real(&'b [f32]),
}

/// Where the cells of a column are: the number of the column among those that are held alike.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Place {
    Whole(usize),
    Steps(usize),
    Real(usize),
}

/// Some rows of a table, column by column.
///
/// Columns of one type lie behind each other in one piece of memory, [`BLOCK_ROWS`] apart, so that a cell is written
/// without asking what its column is.
#[derive(Debug, Clone)]
pub struct Block {
    places: Vec<Place>,
    whole: Vec<i64>,
    steps: Vec<i32>,
    real: Vec<f32>,
    rows: usize,
}

/// Rows that a block holds: one row group of a Parquet file, three days at 16 s. Not a power of two: then
/// the next cells of all columns would fall into the same few cache sets.
pub const BLOCK_ROWS: usize = 16_200;

impl Block {
    /// An empty block for these columns.
    #[must_use]
    pub fn new(columns: &[Column]) -> Self {
        let (mut whole, mut steps, mut real) = (0, 0, 0);
        let number = |count: &mut usize| {
            *count += 1;
            *count - 1
        };
        let places = columns
            .iter()
            .map(|column| match column.kind {
                Kind::Time | Kind::Count => Place::Whole(number(&mut whole)),
                Kind::Steps { .. } => Place::Steps(number(&mut steps)),
                Kind::Real { .. } => Place::Real(number(&mut real)),
            })
            .collect();
        Self {
            places,
            whole: vec![0; whole * BLOCK_ROWS],
            steps: vec![0; steps * BLOCK_ROWS],
            real: vec![0.0; real * BLOCK_ROWS],
            rows: 0,
        }
    }

    /// Whole rows in the block.
    #[must_use]
    pub fn rows(&self) -> usize {
        self.rows
    }

    /// The cells of a column.
    #[must_use]
    pub fn column(&self, number: usize) -> Cells<'_> {
        let range = |place: usize| place * BLOCK_ROWS..place * BLOCK_ROWS + self.rows;
        match self.places[number] {
            Place::Whole(place) => Cells::Whole(&self.whole[range(place)]),
            Place::Steps(place) => Cells::Steps(&self.steps[range(place)]),
            Place::Real(place) => Cells::Real(&self.real[range(place)]),
        }
    }

    /// The cells, column by column.
    pub fn columns(&self) -> impl Iterator<Item = Cells<'_>> {
        (0..self.places.len()).map(|number| self.column(number))
    }

    /// Forget the rows, keep the room.
    pub fn clear(&mut self) {
        self.rows = 0;
    }

    /// The next row, to be filled cell by cell. A full block must be cleared before.
    #[inline]
    pub fn row(&mut self) -> BlockRow<'_> {
        let row = self.rows;
        debug_assert!(row < BLOCK_ROWS, "the block is full");
        self.rows += 1;
        BlockRow {
            places: &self.places,
            whole: self.whole.get_mut(row..).unwrap_or_default(),
            steps: self.steps.get_mut(row..).unwrap_or_default(),
            real: self.real.get_mut(row..).unwrap_or_default(),
            next_whole: 0,
            next_steps: 0,
            next_real: 0,
            cells: 0,
        }
    }

    /// Whether the block is to be written.
    #[must_use]
    pub fn is_full(&self) -> bool {
        self.rows >= BLOCK_ROWS
    }
}

/// A row of a block on its way; what is not filled in keeps what it was.
///
/// It goes by value, so that its counters stay in registers: in the block's own memory every cell would wait for the one
/// before.
#[derive(Debug)]
pub struct BlockRow<'b> {
    places: &'b [Place],
    /// The cells of each type from this row on; the next column's is [`BLOCK_ROWS`] further on.
    whole: &'b mut [i64],
    steps: &'b mut [i32],
    real: &'b mut [f32],
    next_whole: usize,
    next_steps: usize,
    next_real: usize,
    /// Cells of the row so far.
    cells: usize,
}

impl BlockRow<'_> {
    /// The next cell of the row, for a time or count column.
    #[inline(always)]
    #[must_use]
    pub fn whole(mut self, value: i64) -> Self {
        debug_assert!(
            matches!(self.places.get(self.cells), Some(Place::Whole(_))),
            "column {} is not whole",
            self.cells
        );
        if let Some(cell) = self.whole.get_mut(self.next_whole) {
            *cell = value;
        }
        self.next_whole += BLOCK_ROWS;
        self.cells += 1;
        self
    }

    /// The next cell of the row, for a column of steps.
    #[inline(always)]
    #[must_use]
    pub fn steps(mut self, value: Option<i32>) -> Self {
        debug_assert!(
            matches!(self.places.get(self.cells), Some(Place::Steps(_))),
            "column {} does not hold steps",
            self.cells
        );
        if let Some(cell) = self.steps.get_mut(self.next_steps) {
            *cell = value.unwrap_or(MISSING_STEPS);
        }
        self.next_steps += BLOCK_ROWS;
        self.cells += 1;
        self
    }

    /// The next cell of the row, for a column of real numbers.
    #[inline(always)]
    #[must_use]
    pub fn real(mut self, value: f64) -> Self {
        debug_assert!(
            matches!(self.places.get(self.cells), Some(Place::Real(_))),
            "column {} is not real",
            self.cells
        );
        if let Some(cell) = self.real.get_mut(self.next_real) {
            *cell = value as f32;
        }
        self.next_real += BLOCK_ROWS;
        self.cells += 1;
        self
    }

    /// The row is complete.
    #[inline(always)]
    pub fn end(self) {
        debug_assert_eq!(self.cells, self.places.len(), "row has the wrong length");
    }
}

/// Decimals that show one step of `1 / denominator`.
#[must_use]
pub fn decimals(denominator: i32) -> u32 {
    denominator.unsigned_abs().max(1).ilog10()
}
