//! What it costs to record: rows of the answer key into each form of file.

use benchmast::faults::Causes;
use benchmast::record::folder::Folder;
use benchmast::record::{Format, Recorder, RecorderOptions};
use benchmast::row::{Row, Sink};
use benchmast_sim::condition::Condition;
use benchmast_sim::entropy::Seed;
use benchmast_sim::head::Parameters;
use benchmast_sim::site::{Place, Site};
use benchmast_sim::station::Station;
use benchmast_sim::truth::Truth;
use divan::Bencher;
use divan::counter::ItemsCount;

const ROWS: usize = 200_000;

fn main() {
    divan::main();
}

#[divan::bench(args = [Format::Csv, Format::Parquet], sample_count = 5)]
fn key(bencher: Bencher, format: Format) {
    let place = Place {
        latitude_deg: 47.0,
        longitude_deg: 8.0,
        altitude_m: 400.0,
    };
    let seed = Seed(1);
    let mut noise = seed.stream("bench", "noise");
    let mut station = Station::new(&Parameters::default(), place, Site::default(), seed, "s", 0);
    station.part();
    let rows: Vec<_> = (0..2000)
        .map(|_| {
            let truth = Truth {
                time_us: station.next_time_us(),
                interval_s: 16.0,
                air_temperature_degc: 10.0 + noise.normal(),
                dew_point_degc: 5.0,
                vapour_pressure_hpa: 8.7,
                relative_humidity_percent: 70.0 + noise.normal(),
                air_pressure_hpa: 960.0 + noise.normal(),
                wind_speed_ms: 3.0 + noise.normal().abs(),
                wind_speed_of_gust_ms: 8.0,
                wind_from_direction_deg: 360.0 * noise.uniform(),
                global_irradiance_wm2: 1000.0 * noise.uniform(),
                illuminance_lx: 1e5 * noise.uniform(),
                ..Truth::default()
            };
            (truth, station.step(&truth, &Condition::HEALTHY))
        })
        .collect();
    bencher
        .counter(ItemsCount::new(ROWS))
        .with_inputs(|| tempfile::tempdir().expect("a place for the files"))
        .bench_values(|room| {
            let folder = Folder::create_beside(&room.path().join("run"), false).expect("a folder");
            let options = RecorderOptions {
                room: false,
                formats: vec![format],
                observed: false,
                key: true,
                bucket_um: 300,
                causes: Causes::default(),
                background: false,
                facts: Vec::new(),
            };
            let mut recorder = Recorder::new(&folder.shelf(), &options).expect("files");
            for (truth, step) in rows.iter().cycle().take(ROWS) {
                let row = Row {
                    truth,
                    step,
                    causes: 0,
                };
                recorder.interval(&row).expect("a row");
            }
            let files = recorder.finish().expect("complete files");
            (room, files)
        });
}
