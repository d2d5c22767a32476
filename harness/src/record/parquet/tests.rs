use super::*;
use crate::record::table::BLOCK_ROWS;
use bytes::Bytes;
use parquet::column::reader::ColumnReader;
use parquet::file::reader::{FileReader, SerializedFileReader};

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

const TENTHS: Kind = Kind::Steps {
    numerator: 3,
    denominator: 10,
};
const REAL: Kind = Kind::Real {
    decimals: 1,
    is_noise: false,
};
const NOISE: Kind = Kind::Real {
    decimals: 1,
    is_noise: true,
};

/// Pseudo-random, the same every time.
fn scrambled(number: usize) -> u64 {
    (number as u64 + 1)
        .wrapping_mul(0x9e37_79b9_7f4a_7c15)
        .rotate_left(29)
        % 100_003
}

/// A column's cells by row, as the reader should find them.
type Rule = (&'static str, Kind, fn(usize) -> Option<i32>);

/// Every way a column can go: dictionaries of all widths, runs and noise, gaps, wide values, neighbours alike.
const RULES: [Rule; 12] = [
    ("one", TENTHS, |_| Some(-7)),
    ("one by block", TENTHS, |row| {
        Some((row / BLOCK_ROWS) as i32)
    }),
    ("two", TENTHS, |row| Some((scrambled(row) % 2) as i32)),
    ("some", TENTHS, |row| {
        Some((scrambled(row) % 300) as i32 - 150)
    }),
    ("the same", TENTHS, |row| {
        Some((scrambled(row) % 300) as i32 - 150)
    }),
    ("many", TENTHS, |row| Some((scrambled(row) % 4096) as i32)),
    ("more", TENTHS, |row| Some((scrambled(row) % 4097) as i32)),
    ("runs", TENTHS, |row| {
        Some(if row / 1000 % 2 == 0 {
            3
        } else {
            (scrambled(row) % 9) as i32
        })
    }),
    ("gaps", TENTHS, |row| {
        (row % 777 != 5).then_some(row as i32 % 11)
    }),
    ("nothing", TENTHS, |_| None),
    ("real", REAL, |row| (row % 50 != 0).then_some(row as i32)),
    ("noise", NOISE, |row| {
        (row < BLOCK_ROWS || row % 9 != 0).then_some(scrambled(row) as i32)
    }),
];

#[test]
fn what_is_written_is_read_again() {
    let mut columns = vec![column("time", Kind::Time), column("n", Kind::Count)];
    columns.extend(RULES.map(|(name, kind, _)| column(name, kind)));
    let mut table = ParquetTable::new(Vec::new(), &columns, &Facts::new()).expect("a table");
    let rows = 2 * BLOCK_ROWS + 1237;
    let mut block = Block::new(&columns);
    for row in 0..rows {
        let mut cells = block
            .row()
            .whole(row as i64 * 16_000_321)
            .whole(i64::from(row % 3 == 0));
        for (_, kind, rule) in RULES {
            cells = match kind {
                Kind::Steps { .. } => cells.steps(rule(row)),
                _ => cells.real(rule(row).map_or(f64::NAN, f64::from)),
            };
        }
        cells.end();
        if block.is_full() {
            table.write(&block).expect("a row group");
            block.clear();
        }
    }
    table.write(&block).expect("a row group");
    let file = table.finish().expect("a file");
    let reader = SerializedFileReader::new(Bytes::from(file)).expect("a reader");
    let mut row = 0;
    for number in 0..reader.num_row_groups() {
        let group = reader.get_row_group(number).expect("a row group");
        let rows = group.metadata().num_rows() as usize;
        let times = match group.get_column_reader(0).expect("a column") {
            ColumnReader::Int64ColumnReader(mut reader) => {
                let mut values = Vec::new();
                let read = reader.read_records(rows, None, None, &mut values);
                assert_eq!(read.expect("values").0, rows);
                values
            }
            _ => panic!("times of another type"),
        };
        let expected: Vec<_> = (row..row + rows)
            .map(|row| row as i64 * 16_000_321)
            .collect();
        assert_eq!(times, expected);
        for (place, (name, kind, rule)) in RULES.into_iter().enumerate() {
            let found = reals(group.get_column_reader(2 + place).expect("a column"), rows);
            let expected: Vec<_> = (row..row + rows)
                .map(|row| match kind {
                    Kind::Steps { .. } => {
                        rule(row).map(|steps| (f64::from(steps) * 3.0 / 10.0) as f32)
                    }
                    _ => rule(row).map(|value| value as f32),
                })
                .collect();
            let differs = found.iter().zip(&expected).position(|(a, b)| a != b);
            assert_eq!(differs, None, "{name} in {number}");
            assert_eq!(found.len(), expected.len());
        }
        row += rows;
    }
    assert_eq!(row, rows);
}

fn reals(reader: ColumnReader, rows: usize) -> Vec<Option<f32>> {
    let ColumnReader::FloatColumnReader(mut reader) = reader else {
        panic!("reals of another type");
    };
    let (mut values, mut levels) = (Vec::new(), Vec::new());
    let read = reader.read_records(rows, Some(&mut levels), None, &mut values);
    assert_eq!(read.expect("values").0, rows);
    let mut values = values.into_iter();
    levels
        .into_iter()
        .map(|level| if level == 1 { values.next() } else { None })
        .collect()
}
