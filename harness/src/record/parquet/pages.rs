//! Column chunks put together here: values as they are, and values by a dictionary.
//!
//! The library's dictionary looks every value up by its hash. Steps of a sensor are small whole numbers: a table finds their
//! place in the dictionary, in a tenth of the time. The forms of pages, runs and packed numbers are those of the Apache
//! Parquet format (Encodings.md: PLAIN = 0, RLE = 3, `RLE_DICTIONARY` = 8).

use crate::record::table::MISSING_STEPS;
use bytes::Bytes;
use parquet::basic::{Compression, Encoding};
use parquet::column::page::{CompressedPage, Page, PageWriter};
use parquet::column::writer::ColumnCloseResult;
use parquet::errors::ParquetError;
use parquet::file::metadata::ColumnChunkMetaData;
use parquet::file::statistics::Statistics;
use parquet::file::writer::{SerializedPageWriter, SerializedRowGroupWriter, TrackedWrite};
use parquet::schema::types::ColumnDescPtr;
use std::io::Write;
use std::ops::RangeInclusive;

/// An encoded column of one block, to be put into a row group as often as it is needed.
#[derive(Debug, Clone)]
pub(super) struct Chunk {
    bytes: Bytes,
    rows: usize,
    compression: Compression,
    encodings: Vec<Encoding>,
    uncompressed: i64,
    /// Where the dictionary, if there is one, and the data begin.
    dictionary_at: Option<i64>,
    data_at: i64,
    statistics: Option<Statistics>,
}

impl Chunk {
    /// What the library has made.
    pub(super) fn of(close: &ColumnCloseResult, bytes: Vec<u8>) -> Self {
        let metadata = &close.metadata;
        Self {
            bytes: bytes.into(),
            rows: close.rows_written as usize,
            compression: metadata.compression(),
            encodings: metadata.encodings().collect(),
            uncompressed: metadata.uncompressed_size(),
            dictionary_at: metadata.dictionary_page_offset(),
            data_at: metadata.data_page_offset(),
            statistics: metadata.statistics().cloned(),
        }
    }

    /// Of pages that are not compressed.
    fn made(rows: usize, pages: Vec<Page>) -> Result<Self, ParquetError> {
        let room = pages.iter().map(|page| page.buffer().len() + 64).sum();
        let mut sink = TrackedWrite::new(Vec::with_capacity(room));
        let mut encodings = vec![Encoding::RLE];
        let (mut dictionary_at, mut data_at) = (None, 0);
        for page in pages {
            let at = sink.bytes_written() as i64;
            match &page {
                Page::DictionaryPage { .. } => dictionary_at = Some(at),
                _ => data_at = at,
            }
            encodings.push(page.encoding());
            let length = page.buffer().len();
            SerializedPageWriter::new(&mut sink).write_page(CompressedPage::new(page, length))?;
        }
        let bytes = sink.into_inner()?;
        Ok(Self {
            uncompressed: bytes.len() as i64,
            bytes: bytes.into(),
            rows,
            compression: Compression::UNCOMPRESSED,
            encodings,
            dictionary_at,
            data_at,
            statistics: None,
        })
    }

    pub(super) fn rows(&self) -> usize {
        self.rows
    }

    /// Put it into a row group as the next column.
    pub(super) fn append<W: Write + Send>(
        &self,
        group: &mut SerializedRowGroupWriter<'_, W>,
        column: &ColumnDescPtr,
    ) -> Result<(), ParquetError> {
        let mut metadata = ColumnChunkMetaData::builder(column.clone())
            .set_compression(self.compression)
            .set_encodings(self.encodings.clone())
            .set_total_compressed_size(self.bytes.len() as i64)
            .set_total_uncompressed_size(self.uncompressed)
            .set_num_values(self.rows as i64)
            .set_data_page_offset(self.data_at)
            .set_dictionary_page_offset(self.dictionary_at);
        if let Some(statistics) = &self.statistics {
            metadata = metadata.set_statistics(statistics.clone());
        }
        group.append_column(
            &self.bytes,
            ColumnCloseResult {
                bytes_written: self.bytes.len() as u64,
                rows_written: self.rows as u64,
                metadata: metadata.build()?,
                bloom_filter: None,
                column_index: None,
                offset_index: None,
            },
        )
    }
}

/// A page of an optional column in which no value is missing: its buffer begins with that.
fn data_page(buffer: Vec<u8>, rows: usize, encoding: Encoding) -> Page {
    Page::DataPage {
        buf: buffer.into(),
        num_values: rows as u32,
        encoding,
        def_level_encoding: Encoding::RLE,
        rep_level_encoding: Encoding::RLE,
        statistics: None,
    }
}

/// Definition levels of a column without gaps: one run of ones, its length before it.
fn none_missing(buffer: &mut Vec<u8>, rows: usize) {
    let start = buffer.len();
    buffer.extend([0; 4]);
    run(buffer, rows, 1, 1);
    let length = (buffer.len() - start - 4) as u32;
    buffer[start..start + 4].copy_from_slice(&length.to_le_bytes());
}

/// A number in groups of seven bits, lowest first.
fn varint(buffer: &mut Vec<u8>, mut number: usize) {
    while number >= 0x80 {
        buffer.push(number as u8 | 0x80);
        number >>= 7;
    }
    buffer.push(number as u8);
}

/// So many times the same value of at most 16 bits.
fn run(buffer: &mut Vec<u8>, length: usize, value: u16, width: u32) {
    varint(buffer, length << 1);
    let [low, high] = value.to_le_bytes();
    buffer.push(low);
    if width > 8 {
        buffer.push(high);
    }
}

/// A column of real numbers as they are, none of them missing.
pub(super) fn plain(values: &[f32]) -> Result<Chunk, ParquetError> {
    let mut buffer = Vec::with_capacity(values.len() * 4 + 16);
    none_missing(&mut buffer, values.len());
    let at = buffer.len();
    buffer.resize(at + 4 * values.len(), 0);
    let (words, _) = buffer[at..].as_chunks_mut();
    for (word, value) in words.iter_mut().zip(values) {
        *word = value.to_le_bytes();
    }
    Chunk::made(
        values.len(),
        vec![data_page(buffer, values.len(), Encoding::PLAIN)],
    )
}

/// Largest difference of two values of a column that goes by a dictionary of what there is.
const WIDEST: usize = 4096;
/// Largest difference with which the dictionary holds every value from the least to the most, so that a value's place
/// is its distance from the least, and nothing need be looked up.
const DENSE: usize = 1024;
/// Values that are packed, or told as a run, together.
const STRETCH: usize = 64;

/// Encodes columns of few different whole numbers by a dictionary of them, in rising order.
#[derive(Debug, Default)]
pub(super) struct Dictionary {
    /// By value less the least one: whether it is there, then its place.
    places: Vec<u16>,
    indices: Vec<u16>,
}

impl Dictionary {
    /// `None` where one is missing or values lie too far apart. `value`: what stands in the table.
    pub(super) fn encode(
        &mut self,
        steps: &[i32],
        value: impl Fn(i32) -> f32,
    ) -> Result<Option<Chunk>, ParquetError> {
        let (least, most) = steps.iter().fold((i32::MAX, i32::MIN), |(low, high), &x| {
            (low.min(x), high.max(x))
        });
        let span = i64::from(most) - i64::from(least);
        if least == MISSING_STEPS || !(0..WIDEST as i64).contains(&span) {
            return Ok(None);
        }
        let mut words = Vec::new();
        self.indices.clear();
        if span < DENSE as i64 {
            words.extend((least..=most).flat_map(|x| value(x).to_le_bytes()));
            let distance = |&x: &i32| x.wrapping_sub(least) as u16;
            self.indices.extend(steps.iter().map(distance));
        } else {
            self.look_up(steps, least..=most, |x| {
                words.extend(value(x).to_le_bytes());
            });
        }
        let different = (words.len() / 4) as u32;
        let width = (u32::BITS - (different - 1).leading_zeros()).max(1);
        let mut buffer = Vec::with_capacity(steps.len() * width as usize / 8 + 64);
        none_missing(&mut buffer, steps.len());
        buffer.push(width as u8);
        runs(&mut buffer, &self.indices, width);
        let dictionary = Page::DictionaryPage {
            buf: words.into(),
            num_values: different,
            encoding: Encoding::PLAIN,
            is_sorted: true,
        };
        let data = data_page(buffer, steps.len(), Encoding::RLE_DICTIONARY);
        Chunk::made(steps.len(), vec![dictionary, data]).map(Some)
    }

    /// Tell every value there is, in rising order, and find the places of all.
    fn look_up(&mut self, steps: &[i32], range: RangeInclusive<i32>, mut tell: impl FnMut(i32)) {
        let least = *range.start();
        let place = |x: i32| x.wrapping_sub(least) as usize & (WIDEST - 1);
        self.places.clear();
        self.places.resize(WIDEST, 0);
        for &x in steps {
            self.places[place(x)] = 1;
        }
        let mut told = 0;
        for (x, there) in range.zip(&mut self.places) {
            if *there == 1 {
                *there = told;
                told += 1;
                tell(x);
            }
        }
        let places = &self.places;
        self.indices.extend(steps.iter().map(|&x| places[place(x)]));
    }
}

/// Stretches with one value as runs, the others packed.
fn runs(buffer: &mut Vec<u8>, indices: &[u16], width: u32) {
    let mut rest = indices;
    while let Some(&first) = rest.first() {
        let alone = |stretch: &[u16], value: u16| stretch.iter().all(|index| *index == value);
        let whole = rest.chunks_exact(STRETCH);
        let repeated = whole.take_while(|stretch| alone(stretch, first)).count() * STRETCH;
        if repeated > 0 {
            run(buffer, repeated, first, width);
            rest = &rest[repeated..];
            continue;
        }
        // A last stretch that is not whole is packed, too; what is missing of a group of eight is zeros.
        let mixed = rest
            .chunks(STRETCH)
            .take_while(|stretch| stretch.len() < STRETCH || !alone(stretch, stretch[0]))
            .map(<[u16]>::len)
            .sum::<usize>();
        varint(buffer, mixed.div_ceil(8) << 1 | 1);
        pack(buffer, &rest[..mixed], width);
        rest = &rest[mixed..];
    }
}

/// Numbers of `width` bits (12 at most: [`WIDEST`]), lowest first, in groups of eight.
fn pack(buffer: &mut Vec<u8>, indices: &[u16], width: u32) {
    // For each width its own code, which need not ask how far to shift.
    match width {
        1 => pack_by::<1>(buffer, indices),
        2 => pack_by::<2>(buffer, indices),
        3 => pack_by::<3>(buffer, indices),
        4 => pack_by::<4>(buffer, indices),
        5 => pack_by::<5>(buffer, indices),
        6 => pack_by::<6>(buffer, indices),
        7 => pack_by::<7>(buffer, indices),
        8 => pack_by::<8>(buffer, indices),
        9 => pack_by::<9>(buffer, indices),
        10 => pack_by::<10>(buffer, indices),
        11 => pack_by::<11>(buffer, indices),
        _ => pack_by::<12>(buffer, indices),
    }
}

fn pack_by<const WIDTH: usize>(buffer: &mut Vec<u8>, indices: &[u16]) {
    let (groups, rest) = indices.as_chunks::<8>();
    let at = buffer.len();
    buffer.resize(at + indices.len().div_ceil(8) * WIDTH, 0);
    let (places, _) = buffer[at..].as_chunks_mut::<WIDTH>();
    let put = |place: &mut [u8; WIDTH], group: &[u16; 8]| {
        let mut bits = 0_u128;
        for (number, index) in group.iter().enumerate() {
            bits |= u128::from(*index) << (number * WIDTH);
        }
        place.copy_from_slice(&bits.to_le_bytes()[..WIDTH]);
    };
    for (place, group) in places.iter_mut().zip(groups) {
        put(place, group);
    }
    if let (false, Some(place)) = (rest.is_empty(), places.last_mut()) {
        let mut last = [0; 8];
        last[..rest.len()].copy_from_slice(rest);
        put(place, &last);
    }
}
