//! A table as Apache Parquet.
//!
//! A column of which nothing is new costs nothing: one that says in this block what its neighbour says (the actual
//! head what its twin does), and one that says the same in every row, as in a block before, are encoded once. Most
//! others have few different values in a block and go by a dictionary, see [`pages`]; the rest by the library's encoders.

mod pages;

use super::Facts;
use super::table::{Block, Cells, Column, Kind, MISSING_STEPS};
use pages::{Chunk, Dictionary};
use parquet::basic::{Compression, Encoding, LogicalType, Repetition, TimeUnit, Type as Physical};
use parquet::column::writer::{ColumnWriter, get_column_writer};
use parquet::errors::ParquetError;
use parquet::file::metadata::KeyValue;
use parquet::file::properties::{EnabledStatistics, WriterProperties, WriterPropertiesPtr};
use parquet::file::writer::{SerializedFileWriter, SerializedPageWriter, TrackedWrite};
use parquet::schema::types::{ColumnDescPtr, ColumnPath, Type};
use std::io::{self, Write};
use std::sync::Arc;

/// A table on its way into a Parquet file; each block becomes a row group.
pub(super) struct ParquetTable<W: Write + Send> {
    file: SerializedFileWriter<W>,
    encoder: Encoder,
    /// Per column, its kind and the last chunk with the same value in every row: the value, and the chunk.
    columns: Vec<(Kind, Option<(Same, Chunk)>)>,
}

/// The value of a column that has but one; real numbers by their bits.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Same {
    Whole(i64),
    Steps(i32),
    Real(u32),
}

/// Cells that are looked at together: several at a time, and yet not all of them where the first say enough.
const STRETCH: usize = 256;

/// Whether all cells are the first one. `differs`: 0 for two that are the same.
fn all_same<T: Copy>(values: &[T], differs: impl Fn(T, T) -> u64) -> Option<T> {
    let first = *values.first()?;
    let alone = |stretch: &[T]| {
        let found = stretch.iter().fold(0, |all, x| all | differs(*x, first));
        found == 0
    };
    values.chunks(STRETCH).all(alone).then_some(first)
}

/// The value, if the cells have but one.
fn same(cells: Cells<'_>) -> Option<Same> {
    match cells {
        Cells::Whole(values) => all_same(values, |a, b| (a ^ b).cast_unsigned()).map(Same::Whole),
        Cells::Steps(values) => {
            all_same(values, |a, b| u64::from((a ^ b).cast_unsigned())).map(Same::Steps)
        }
        Cells::Real(values) => all_same(values, |a, b| u64::from(a.to_bits() ^ b.to_bits()))
            .map(|value| Same::Real(value.to_bits())),
    }
}

/// Whether two columns of one kind hold the same, bit for bit.
fn alike(one: Cells<'_>, other: Cells<'_>) -> bool {
    match (one, other) {
        (Cells::Whole(one), Cells::Whole(other)) => one == other,
        (Cells::Steps(one), Cells::Steps(other)) => one == other,
        (Cells::Real(one), Cells::Real(other)) => {
            let differ = |(a, b): (&[f32], &[f32])| {
                let pairs = a.iter().zip(b);
                let found = pairs.fold(0, |all, (a, b)| all | (a.to_bits() ^ b.to_bits()));
                found != 0
            };
            let mut stretches = one.chunks(STRETCH).zip(other.chunks(STRETCH));
            one.len() == other.len() && !stretches.any(differ)
        }
        _ => false,
    }
}

/// An optional column as the library wants it: the values there are, and where they are.
#[derive(Default)]
struct Optional {
    values: Vec<f32>,
    present: Vec<i16>,
}

impl Optional {
    fn select<T: Copy>(
        &mut self,
        cells: &[T],
        is_present: impl Fn(T) -> bool,
        value: impl Fn(T) -> f32,
    ) {
        self.values.clear();
        self.present.clear();
        self.present
            .extend(cells.iter().map(|cell| i16::from(is_present(*cell))));
        // Most blocks have no gap; without the filter the loop runs several cells at a time.
        if self.present.iter().all(|present| *present == 1) {
            self.values.extend(cells.iter().map(|cell| value(*cell)));
        } else {
            let there = cells.iter().copied().filter(|cell| is_present(*cell));
            self.values.extend(there.map(value));
        }
    }
}

/// Makes the chunks of columns.
struct Encoder {
    properties: WriterPropertiesPtr,
    dictionary: Dictionary,
    reals: Optional,
}

impl Encoder {
    fn encode(
        &mut self,
        column: &ColumnDescPtr,
        kind: Kind,
        cells: Cells<'_>,
    ) -> Result<Chunk, ParquetError> {
        match (cells, kind) {
            (Cells::Whole(values), _) => self.by_library(column, |writer, _| match writer {
                ColumnWriter::Int64ColumnWriter(writer) => writer.write_batch(values, None, None),
                _ => Err(another_type()),
            }),
            (Cells::Real(values), Kind::Real { is_noise, .. }) => {
                if is_noise && !values.iter().any(|value| value.is_nan()) {
                    return pages::plain(values);
                }
                self.by_library(column, |writer, reals| {
                    reals.select(values, |value| !value.is_nan(), |value| value);
                    floats(writer, reals)
                })
            }
            (
                Cells::Steps(values),
                Kind::Steps {
                    numerator,
                    denominator,
                },
            ) => {
                let (numerator, denominator) = (f64::from(numerator), f64::from(denominator));
                let value = |steps: i32| (f64::from(steps) * numerator / denominator) as f32;
                if let Some(chunk) = self.dictionary.encode(values, value)? {
                    return Ok(chunk);
                }
                self.by_library(column, |writer, reals| {
                    reals.select(values, |steps| steps != MISSING_STEPS, value);
                    floats(writer, reals)
                })
            }
            _ => Err(another_type()),
        }
    }

    fn by_library(
        &mut self,
        column: &ColumnDescPtr,
        write: impl FnOnce(&mut ColumnWriter<'_>, &mut Optional) -> Result<usize, ParquetError>,
    ) -> Result<Chunk, ParquetError> {
        let mut sink = TrackedWrite::new(Vec::new());
        let pages = Box::new(SerializedPageWriter::new(&mut sink));
        let mut writer = get_column_writer(column.clone(), self.properties.clone(), pages);
        write(&mut writer, &mut self.reals)?;
        let close = writer.close()?;
        Ok(Chunk::of(&close, sink.into_inner()?))
    }
}

fn another_type() -> ParquetError {
    ParquetError::General("column of another type".into())
}

fn floats(writer: &mut ColumnWriter<'_>, reals: &Optional) -> Result<usize, ParquetError> {
    match writer {
        ColumnWriter::FloatColumnWriter(writer) => {
            writer.write_batch(&reals.values, Some(&reals.present), None)
        }
        _ => Err(another_type()),
    }
}

fn as_io(error: ParquetError) -> io::Error {
    io::Error::other(error)
}

fn field(column: &Column) -> Result<Arc<Type>, ParquetError> {
    let (physical, logical, repetition) = match column.kind {
        Kind::Time => (
            Physical::INT64,
            Some(LogicalType::timestamp(true, TimeUnit::MICROS)),
            Repetition::REQUIRED,
        ),
        Kind::Count => (Physical::INT64, None, Repetition::REQUIRED),
        Kind::Steps { .. } | Kind::Real { .. } => (Physical::FLOAT, None, Repetition::OPTIONAL),
    };
    Type::primitive_type_builder(&column.name, physical)
        .with_repetition(repetition)
        .with_logical_type(logical)
        .build()
        .map(Arc::new)
}

impl<W: Write + Send> ParquetTable<W> {
    /// Units and CF names go into the file's key-value metadata beside `facts`.
    pub(super) fn new(file: W, columns: &[Column], facts: &Facts) -> io::Result<Self> {
        let fields: Result<Vec<_>, _> = columns.iter().map(field).collect();
        let schema = Type::group_type_builder("record")
            .with_fields(fields.map_err(as_io)?)
            .build()
            .map_err(as_io)?;
        let mut metadata: Vec<_> = facts
            .iter()
            .map(|(key, value)| KeyValue::new(key.clone(), value.clone()))
            .collect();
        metadata.push(KeyValue::new(
            "units".into(),
            super::folder::units(columns).to_string(),
        ));
        let mut properties = WriterProperties::builder()
            .set_created_by(concat!("benchmast ", env!("CARGO_PKG_VERSION")).into())
            .set_compression(Compression::SNAPPY)
            // Building dictionaries costs more time than it saves room: most columns are noise.
            .set_dictionary_enabled(false)
            // Rows are looked up by time; the extremes of noise help nobody.
            .set_statistics_enabled(EnabledStatistics::None)
            .set_column_statistics_enabled("time".into(), EnabledStatistics::Chunk)
            .set_offset_index_disabled(true)
            .set_write_batch_size(8192)
            .set_key_value_metadata(Some(metadata));
        for column in columns {
            let path = ColumnPath::from(column.name.as_str());
            properties = match column.kind {
                // Times and counters grow evenly: their differences take next to no room.
                Kind::Time | Kind::Count => {
                    properties.set_column_encoding(path, Encoding::DELTA_BINARY_PACKED)
                }
                Kind::Real { is_noise: true, .. } => {
                    properties.set_column_compression(path, Compression::UNCOMPRESSED)
                }
                // Sign and exponent repeat, the last bits are noise: apart, the first compress well.
                Kind::Steps { .. } | Kind::Real { .. } => {
                    properties.set_column_encoding(path, Encoding::BYTE_STREAM_SPLIT)
                }
            };
        }
        let properties = Arc::new(properties.build());
        Ok(Self {
            file: SerializedFileWriter::new(file, Arc::new(schema), properties.clone())
                .map_err(as_io)?,
            encoder: Encoder {
                properties,
                dictionary: Dictionary::default(),
                reals: Optional::default(),
            },
            columns: columns.iter().map(|column| (column.kind, None)).collect(),
        })
    }

    pub(super) fn write(&mut self, block: &Block) -> io::Result<()> {
        self.row_group(block).map_err(as_io)
    }

    fn row_group(&mut self, block: &Block) -> Result<(), ParquetError> {
        let descriptions: Vec<_> = self.file.schema_descr().columns().to_vec();
        let mut group = self.file.next_row_group()?;
        let mut before: Option<(Kind, Cells<'_>, Chunk)> = None;
        for ((number, column), (kind, last)) in
            descriptions.iter().enumerate().zip(&mut self.columns)
        {
            let cells = block.column(number);
            let chunk = match (&before, last) {
                (Some((other, theirs, chunk)), _) if other == kind && alike(cells, *theirs) => {
                    chunk.clone()
                }
                (_, last) => {
                    let same = same(cells);
                    match (same, &last) {
                        (Some(same), Some((value, chunk)))
                            if same == *value && chunk.rows() == block.rows() =>
                        {
                            chunk.clone()
                        }
                        _ => {
                            let chunk = self.encoder.encode(column, *kind, cells)?;
                            if let Some(same) = same {
                                *last = Some((same, chunk.clone()));
                            }
                            chunk
                        }
                    }
                }
            };
            chunk.append(&mut group, column)?;
            before = Some((*kind, cells, chunk));
        }
        group.close()?;
        Ok(())
    }

    pub(super) fn finish(self) -> io::Result<W> {
        // Writes the footer, too.
        self.file.into_inner().map_err(as_io)
    }
}

#[cfg(test)]
mod tests;
