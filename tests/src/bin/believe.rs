//! The open hourly year beside simulated years with its normals: prints every statistic of both.
//!
//! `believe [--years N] [--seed N] [--no-breeze] [--hourly FILE.csv]`

use benchmast_sim::site::LocalWind;
use benchmast_tests::believe::{Line, sampling_ranges, short, table};
use benchmast_tests::hourly::{Record, date_of};
use benchmast_tests::open_year;
use benchmast_tests::sample::Values;
use benchmast_tests::simulate::{self, BREEZE, Month, months};
use std::error::Error;
use std::fs::File;
use std::io::{BufWriter, Write};

struct Wanted {
    years: usize,
    seed: u64,
    breeze: LocalWind,
    hourly: Option<String>,
}

fn wanted() -> Result<Wanted, Box<dyn Error>> {
    let mut wanted = Wanted {
        years: 10,
        seed: 1,
        breeze: BREEZE,
        hourly: None,
    };
    let mut words = std::env::args().skip(1);
    while let Some(word) = words.next() {
        let mut value = || words.next().ok_or(format!("{word} needs a value"));
        match word.as_str() {
            "--years" => wanted.years = value()?.parse()?,
            "--seed" => wanted.seed = value()?.parse()?,
            "--hourly" => wanted.hourly = Some(value()?),
            "--no-breeze" => wanted.breeze = LocalWind::None,
            _ => return Err(format!("unknown: {word}").into()),
        }
    }
    if wanted.years == 0 {
        return Err("at least one year".into());
    }
    Ok(wanted)
}

fn print_table(lines: &[Line]) {
    println!(
        "{:<40}{:>9}{:>9}{:>9}{:>10}{:>9}{:>9}",
        "statistic", "real", "q05", "q95", "simulated", "lowest", "highest"
    );
    for line in lines {
        let (low, high) = line.spread();
        let mark = if line.inside() {
            ""
        } else if line.simulated() > line.allowed.1 {
            "  HIGH"
        } else {
            "  LOW"
        };
        println!(
            "{:<40}{:>9}{:>9}{:>9}{:>10}{:>9}{:>9}{mark}",
            line.name,
            short(line.real),
            short(line.range.0),
            short(line.range.1),
            short(line.simulated()),
            short(low),
            short(high),
        );
    }
    let inside = lines.iter().filter(|line| line.inside()).count();
    println!(
        "\n{inside} of {} statistics ({:.1} %) inside the one-year range widened by half",
        lines.len(),
        100.0 * inside as f64 / lines.len() as f64
    );
}

/// A heading and what stands under it.
type Column = (&'static str, fn(&Month) -> f64);

/// Simulated months less the normals, with the standard error of the ten-year mean.
fn print_normals(real: &Record, years: &[Record]) {
    let normals = months(real);
    let simulated: Vec<[Month; 12]> = years.iter().map(months).collect();
    let columns: [Column; 6] = [
        ("T K", |m| m.t),
        ("range K", |m| m.range),
        ("Td K", |m| m.td),
        ("rain mm", |m| m.rain),
        ("wet h", |m| m.wet_hours),
        ("wind m/s", |m| m.ws),
    ];
    println!(
        "\nsimulated less normal by month, +- standard error of the mean of the years; * beyond three"
    );
    print!("{:<6}", "month");
    for (name, _) in columns {
        print!("{name:>17}");
    }
    println!("{:>18}", "most from deg");
    for m in 0..12 {
        print!("{:<6}", m + 1);
        for (_, of) in columns {
            let values = Values::new(simulated.iter().map(|y| (of(&y[m]) - of(&normals[m]), 0)));
            let (mean, error) = (
                values.mean(&[1.0]),
                values.deviation(&[1.0]) / (years.len() as f64).sqrt(),
            );
            let mark = if mean.abs() > 3.0 * error { "*" } else { " " };
            print!("{mean:>9.2} +-{error:>4.2}{mark}");
        }
        let (mut east, mut north) = (0.0, 0.0);
        for year in &simulated {
            let (sine, cosine) = year[m].wd.to_radians().sin_cos();
            east += sine;
            north += cosine;
        }
        let from = f64::atan2(east, north).to_degrees().rem_euclid(360.0);
        println!("{:>12.0} / {from:>3.0}", normals[m].wd);
    }
}

fn write_hours(file: &mut impl Write, source: &str, record: &Record) -> std::io::Result<()> {
    let months = record.months();
    for (i, h) in record.hours.iter().enumerate() {
        let label = record.first + i as i64;
        let date = date_of(label.div_euclid(24));
        let text = |x: f64, figures: usize| {
            if x.is_nan() {
                String::new()
            } else {
                format!("{x:.figures$}")
            }
        };
        writeln!(
            file,
            "{source},{date},{},{},{},{},{},{},{},{},{},{}",
            record.hour_of_day(i),
            months[i],
            text(h.t, 2),
            text(h.td, 2),
            text(h.rh, 2),
            text(h.p, 1),
            text(h.ws, 3),
            text(h.wd, 0),
            text(h.gust, 3),
            text(h.rain, 3),
        )?;
    }
    Ok(())
}

fn main() -> Result<(), Box<dyn Error>> {
    let wanted = wanted()?;
    let real = open_year::read();
    let years = simulate::years(&real, wanted.seed, wanted.years, wanted.breeze);
    if let Some(path) = &wanted.hourly {
        let mut file = BufWriter::new(File::create(path)?);
        writeln!(file, "source,date,hour,month,t,td,rh,p,ws,wd,gust,rain")?;
        write_hours(&mut file, "real", &real)?;
        for (n, year) in years.iter().enumerate() {
            write_hours(&mut file, &format!("year{n}"), year)?;
        }
        file.flush()?;
    }
    print_table(&table(&real, &sampling_ranges(&real), &years));
    print_normals(&real, &years);
    Ok(())
}
