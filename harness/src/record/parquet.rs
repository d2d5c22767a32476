//! A table as Apache Parquet.

use super::Facts;
use super::table::{Block, Cells, Column, Kind, MISSING_STEPS};
use parquet::basic::{Compression, Encoding, LogicalType, Repetition, TimeUnit, Type as Physical};
use parquet::column::writer::ColumnWriter;
use parquet::errors::ParquetError;
use parquet::file::metadata::KeyValue;
use parquet::file::properties::{EnabledStatistics, WriterProperties};
use parquet::file::writer::SerializedFileWriter;
use parquet::schema::types::{ColumnPath, Type};
use std::io::{self, Write};
use std::sync::Arc;

/// A table on its way into a Parquet file; each block becomes a row group.
pub(super) struct ParquetTable<W: Write + Send> {
    file: SerializedFileWriter<W>,
    kinds: Vec<Kind>,
    reals: Optional,
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
        let properties = properties.build();
        Ok(Self {
            file: SerializedFileWriter::new(file, Arc::new(schema), Arc::new(properties))
                .map_err(as_io)?,
            kinds: columns.iter().map(|column| column.kind).collect(),
            reals: Optional::default(),
        })
    }

    pub(super) fn write(&mut self, block: &Block) -> io::Result<()> {
        self.row_group(block).map_err(as_io)
    }

    fn row_group(&mut self, block: &Block) -> Result<(), ParquetError> {
        let mut group = self.file.next_row_group()?;
        for (cells, kind) in block.cells().iter().zip(&self.kinds) {
            let Some(mut column) = group.next_column()? else {
                break;
            };
            match (column.untyped(), cells) {
                (ColumnWriter::Int64ColumnWriter(writer), Cells::Whole(values)) => {
                    writer.write_batch(values, None, None)?;
                }
                (ColumnWriter::FloatColumnWriter(writer), Cells::Real(values)) => {
                    self.reals
                        .select(values, |value| !value.is_nan(), |value| value);
                    writer.write_batch(&self.reals.values, Some(&self.reals.present), None)?;
                }
                (ColumnWriter::FloatColumnWriter(writer), Cells::Steps(values)) => {
                    let Kind::Steps {
                        numerator,
                        denominator,
                    } = *kind
                    else {
                        continue;
                    };
                    let (numerator, denominator) = (f64::from(numerator), f64::from(denominator));
                    self.reals.select(
                        values,
                        |value| value != MISSING_STEPS,
                        |value| (f64::from(value) * numerator / denominator) as f32,
                    );
                    writer.write_batch(&self.reals.values, Some(&self.reals.present), None)?;
                }
                _ => return Err(ParquetError::General("column of another type".into())),
            }
            column.close()?;
        }
        group.close()?;
        Ok(())
    }

    pub(super) fn finish(self) -> io::Result<W> {
        // Writes the footer, too.
        self.file.into_inner().map_err(as_io)
    }
}
