use super::*;
use crate::site::Place;
use crate::weather::daylight::Daylight;

const DAY_S: f64 = 86_400.0;

/// A place under one unchanging air mass.
#[derive(Clone, Copy)]
struct Air {
    latitude_deg: f64,
    day: f64,
    degc: f64,
    dew_degc: f64,
    wind_ms: f64,
    cover: f64,
    gain: f64,
    step_s: f64,
}

const SUMMER: Air = Air {
    latitude_deg: 48.0,
    day: 172.0,
    degc: 18.0,
    dew_degc: 11.0,
    wind_ms: 2.0,
    cover: 0.0,
    gain: 1.0,
    step_s: 600.0,
};

impl Air {
    fn forcing(&self, time_s: f64) -> Forcing {
        let place = Place {
            latitude_deg: self.latitude_deg,
            longitude_deg: 0.0,
            altitude_m: 50.0,
        };
        // 2026 begins at 1767225600 s.
        let start_s = 1_767_225_600.0 + (self.day - 1.0) * DAY_S;
        let light = Daylight::at(start_s + time_s - 0.5 * self.step_s, &place, self.day);
        Forcing {
            seconds: self.step_s,
            temperature_degc: self.degc,
            dew_point_degc: self.dew_degc,
            global_wm2: light.sky.global_wm2 * (1.0 - 0.75 * libm::pow(self.cover, 3.4)),
            cover: self.cover,
            wind_ms: self.wind_ms,
            pressure_hpa: 1000.0,
            rain_mmh: 0.0,
            range_gain: self.gain,
        }
    }

    /// The steps of the last of some days.
    fn last_day(&self, surface: &mut Surface, days: usize) -> Vec<NearGround> {
        let steps = (DAY_S / self.step_s) as usize;
        let mut last = Vec::new();
        for n in 1..=days * steps {
            let near = surface.step(&self.forcing(n as f64 * self.step_s));
            if n > (days - 1) * steps {
                last.push(near);
            }
        }
        last
    }
}

#[test]
fn probe() {
    for (name, air) in [
        ("clear calm summer", SUMMER),
        (
            "clear windy summer",
            Air {
                wind_ms: 8.0,
                ..SUMMER
            },
        ),
        (
            "overcast windy",
            Air {
                wind_ms: 8.0,
                cover: 1.0,
                ..SUMMER
            },
        ),
        (
            "overcast calm",
            Air {
                wind_ms: 2.0,
                cover: 1.0,
                ..SUMMER
            },
        ),
        (
            "autumn moist calm",
            Air {
                day: 280.0,
                degc: 10.0,
                dew_degc: 8.0,
                wind_ms: 1.0,
                ..SUMMER
            },
        ),
        (
            "winter",
            Air {
                day: 15.0,
                degc: 2.0,
                dew_degc: -1.0,
                ..SUMMER
            },
        ),
        (
            "winter snow",
            Air {
                day: 15.0,
                degc: -8.0,
                dew_degc: -10.0,
                ..SUMMER
            },
        ),
        (
            "desert",
            Air {
                latitude_deg: 30.0,
                degc: 30.0,
                dew_degc: 2.0,
                ..SUMMER
            },
        ),
        (
            "coarse",
            Air {
                step_s: 1800.0,
                ..SUMMER
            },
        ),
    ] {
        let mut surface = Surface::new();
        let day = air.last_day(&mut surface, 4);
        println!("== {name}");
        let every = (7200.0 / air.step_s) as usize;
        for (n, near) in day.iter().enumerate().filter(|(n, _)| (n + 1) % every == 0) {
            println!(
                "{:5.1} T {:6.2} Td {:6.2} skin {:6.2} H {:6.1} fog {:.2} snow {:.1}",
                (n + 1) as f64 * air.step_s / 3600.0,
                near.temperature_degc,
                near.dew_point_degc(),
                near.skin_degc,
                near.heat_flux_wm2,
                near.fog,
                near.snow_mm
            );
        }
        println!("{:?}", surface.layer);
        println!("{:?}", surface.water);
    }
}
