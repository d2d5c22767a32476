//! The figures of the page: one per quantity, then rain, link and supply.

use super::Report;
use super::chart::{self, Scale};
use super::figure::{Chart, Frame};
use super::folds::Spread;
use super::lanes::{DIRECTION, GUST, LIGHT, SPECIFICATIONS, SPEED};
use super::tally::Bin;
use super::traffic;
use super::wording::{self, quantity};
use benchmast_protocol::frame::health::HEALTH_EVERY;
use benchmast_protocol::quantity::RAINFALL;

/// Values of one series over the bins.
type Series = Vec<Option<f64>>;

const HUMIDITY: usize = 1;
const ULTRAVIOLET: usize = 7;

/// Height of a chart, tenths of the letter size.
const TALL: u32 = 110;
const LOW: u32 = 70;
const STRIP: u32 = 52;

/// All figures, in the order of the page.
pub(super) fn all(report: &Report, frame: &Frame) -> String {
    let bins = report.tally.bins();
    let mut html = String::new();
    let largest_effects = report.tally.largest_effects();
    for (lane, largest) in largest_effects.into_iter().enumerate() {
        if lane == LIGHT {
            html.push_str(&rain(report, frame, &bins));
        }
        html.push_str(&if lane == DIRECTION {
            direction(report, frame, &bins, largest)
        } else {
            weather(frame, &bins, lane, largest)
        });
    }
    html.push_str("<h2 id=\"radio\">Radio link</h2>");
    html.push_str(&link(report, frame, &bins));
    html.push_str("<h2 id=\"power\">Power of the head</h2>");
    html.push_str(&supply(report, frame, &bins));
    html
}

/// Least and greatest of several series.
fn extent<'s>(series: impl IntoIterator<Item = &'s Series>) -> (f64, f64) {
    let mut extent = (f64::INFINITY, f64::NEG_INFINITY);
    for value in series.into_iter().flatten().flatten() {
        extent = (extent.0.min(*value), extent.1.max(*value));
    }
    extent
}

fn mean(values: &Series) -> Option<f64> {
    let present: Vec<f64> = values.iter().copied().flatten().collect();
    (!present.is_empty()).then(|| present.iter().sum::<f64>() / present.len() as f64)
}

/// A quantity that is a line: twin, actual and truth, and the effect if there is any.
fn weather(frame: &Frame, bins: &[Bin], lane: usize, largest_effect: f64) -> String {
    let specification = &SPECIFICATIONS[lane];
    let truth: Series = bins.iter().map(|bin| bin.truth.shown(lane)).collect();
    let twin: Series = bins.iter().map(|bin| bin.twin.shown(lane)).collect();
    let actual: Series = bins.iter().map(|bin| bin.actual.shown(lane)).collect();
    let shows_range = frame.timeline.has_ranges() && lane != GUST;
    let low: Series = bins.iter().map(|bin| bin.actual.least(lane)).collect();
    let high: Series = bins.iter().map(|bin| bin.actual.most(lane)).collect();
    let dew_point: Series = if lane == 0 {
        bins.iter().map(|bin| bin.dew_point.mean()).collect()
    } else {
        Vec::new()
    };

    let mut extremes = extent([&truth, &twin, &actual, &dew_point]);
    if shows_range {
        let wider = extent([&low, &high]);
        extremes = (extremes.0.min(wider.0), extremes.1.max(wider.1));
    }
    let step = specification.step_si();
    let scale = match lane {
        HUMIDITY => Scale::fixed(0.0, 100.0, &[0.0, 25.0, 50.0, 75.0, 100.0]),
        SPEED | GUST => Scale::from_zero(extremes.1, 2.0, 4),
        LIGHT => Scale::from_zero(extremes.1, 1000.0, 4),
        ULTRAVIOLET => Scale::from_zero(extremes.1, 1.0, 4),
        _ => Scale::around(extremes.0, extremes.1, 10.0 * step, 4),
    };
    let whole =
        |pick: fn(f64, f64) -> f64, series: &Series| series.iter().copied().flatten().reduce(pick);
    let (decimals, unit) = (specification.decimals(), specification.unit);
    let sentence = if truth.iter().any(Option::is_some) {
        format!(
            "{}: the truth lay between {} and {}, its mean was {}; the actual head's mean was {}, its \
             healthy twin's {}.",
            specification.title,
            quantity(whole(f64::min, &truth), decimals, unit),
            quantity(whole(f64::max, &truth), decimals, unit),
            quantity(mean(&truth), decimals, unit),
            quantity(mean(&actual), decimals, unit),
            quantity(mean(&twin), decimals, unit),
        )
    } else {
        format!("{}: no values.", specification.title)
    };
    let mut main = Chart::new(
        scale,
        if lane == ULTRAVIOLET { LOW } else { TALL },
        sentence,
    );
    if lane == LIGHT {
        main = main.labels(|value, _| wording::count(value.max(0.0) as u64));
    }
    if shows_range {
        main.mark("range", &chart::range(&low, &high, main.scale()));
    }
    main.mark("dew", &chart::line(&dew_point, main.scale(), 1));
    main.mark("twin", &chart::line(&twin, main.scale(), 1));
    main.mark("actual", &chart::line(&actual, main.scale(), 1));
    main.mark("truth", &chart::line(&truth, main.scale(), 1));

    let mut charts = vec![main];
    if largest_effect != 0.0 {
        charts.push(effect(bins, lane, shows_range, largest_effect));
    }
    let note = match lane {
        0 => "Thin dashes: true dew point.",
        GUST if frame.timeline.has_ranges() => "Highest of each bin.",
        _ => "",
    };
    frame.figure(specification.title, wording::unit(unit), note, &charts)
}

/// Actual minus twin of one lane.
fn effect(bins: &[Bin], lane: usize, shows_range: bool, largest: f64) -> Chart {
    let specification = &SPECIFICATIONS[lane];
    let middle: Series = bins.iter().map(|bin| bin.effect.mean(lane)).collect();
    let low: Series = bins.iter().map(|bin| bin.effect.least(lane)).collect();
    let high: Series = bins.iter().map(|bin| bin.effect.most(lane)).collect();
    let extremes = if shows_range {
        extent([&low, &high])
    } else {
        extent([&middle])
    };
    let least_span = 4.0 * specification.step_si();
    let scale = Scale::around(extremes.0.min(0.0), extremes.1.max(0.0), least_span, 2);
    let sentence = format!(
        "Effect of the faults on {}: actual minus twin, at most {} in one interval.",
        specification.title.to_lowercase(),
        wording::with_unit(
            wording::signed(Some(largest), specification.decimals()),
            specification.unit
        )
    );
    let mut strip = Chart::new(scale, STRIP, sentence)
        .heading("effect: actual \u{2212} twin")
        .labels(|value, decimals| wording::signed(Some(value), decimals))
        .with_zero();
    if shows_range {
        strip.mark("range", &chart::range(&low, &high, strip.scale()));
    }
    let zero: Series = middle.iter().map(|value| value.map(|_| 0.0)).collect();
    let below: Series = middle.iter().map(|v| v.map(|v| v.min(0.0))).collect();
    let above: Series = middle.iter().map(|v| v.map(|v| v.max(0.0))).collect();
    let areas =
        chart::range(&below, &zero, strip.scale()) + &chart::range(&zero, &above, strip.scale());
    strip.mark("area", &areas);
    strip.mark("actual", &chart::line(&middle, strip.scale(), 1));
    strip
}

/// Wind direction: dots, since a line would cross the whole chart at north.
fn direction(report: &Report, frame: &Frame, bins: &[Bin], largest_effect: f64) -> String {
    let of = |side: usize| -> Series {
        bins.iter()
            .map(|bin| report.tally.direction(bin.vectors[side]))
            .collect()
    };
    let (truth, twin, actual) = (of(0), of(1), of(2));
    let mut sum = [0.0; 2];
    for bin in bins {
        sum = [sum[0] + bin.vectors[0][0], sum[1] + bin.vectors[0][1]];
    }
    let sentence = format!(
        "Wind direction, one dot per bin: the mean of the true direction was {}; the faults turned it by \
         at most {}.",
        quantity(report.tally.direction(sum), 0, "degree"),
        wording::with_unit(wording::signed(Some(largest_effect), 0), "degree"),
    );
    let scale = Scale::fixed(0.0, 360.0, &[0.0, 90.0, 180.0, 270.0, 360.0]);
    let mut main = Chart::new(scale, TALL, sentence).labels(|value, _| {
        match value as u32 {
            90 => "E",
            180 => "S",
            270 => "W",
            _ => "N",
        }
        .to_owned()
    });
    main.mark("twin dot", &chart::dots(&twin, main.scale()));
    main.mark("actual dot", &chart::dots(&actual, main.scale()));
    main.mark("truth dot", &chart::dots(&truth, main.scale()));
    let mut charts = vec![main];
    if largest_effect != 0.0 {
        let turned: Series = of(3)
            .into_iter()
            .map(|turn| turn.map(|turn| if turn > 180.0 { turn - 360.0 } else { turn }))
            .collect();
        let mut strip = Chart::new(
            Scale::fixed(-180.0, 180.0, &[-180.0, 0.0, 180.0]),
            STRIP,
            "Effect of the faults on the wind direction: actual minus twin, mean of each bin."
                .into(),
        )
        .heading("effect: actual \u{2212} twin")
        .labels(|value, _| wording::with_unit(wording::signed(Some(value), 0), "degree"))
        .with_zero();
        strip.mark("actual dot", &chart::dots(&turned, strip.scale()));
        charts.push(strip);
    }
    let note = "Where the wind comes from. Vector mean of each bin.";
    frame.figure("Wind direction", "", note, &charts)
}

/// Sums over ranges of bins.
fn sums(bins: &[Bin], ranges: &[(usize, usize)], side: usize) -> Vec<f64> {
    let sum = |range: &(usize, usize)| -> f64 {
        let members = bins.get(range.0..range.1).unwrap_or_default();
        members.iter().map(|bin| bin.rain[side]).sum()
    };
    ranges.iter().map(sum).collect()
}

/// Running sum over the bins that the run has reached.
fn running(values: impl Iterator<Item = f64>, reached: usize) -> Series {
    let mut total = 0.0;
    values
        .enumerate()
        .map(|(bin, value)| {
            total += value;
            (bin < reached).then_some(total)
        })
        .collect()
}

/// Rain: bars and running totals.
fn rain(report: &Report, frame: &Frame, bins: &[Bin]) -> String {
    let (bar_us, ranges) = frame.timeline.bars();
    let per_bar: [Vec<f64>; 3] = [0, 1, 2].map(|side| sums(bins, &ranges, side));
    let highest = per_bar.iter().flatten().copied().fold(0.0, f64::max);
    let mut main = Chart::new(
        Scale::from_zero(highest, 1.0, 3),
        LOW,
        format!(
            "Rain per {}: at most {} in truth, {} by the head's own count.",
            wording::span(bar_us),
            quantity(per_bar[0].iter().copied().reduce(f64::max), 1, "mm"),
            quantity(per_bar[2].iter().copied().reduce(f64::max), 1, "mm"),
        ),
    );
    let nothing = vec![0.0; ranges.len()];
    let (twin, actual) = (&per_bar[1], &per_bar[2]);
    main.mark(
        "twin bar",
        &chart::bars(&ranges, &nothing, twin, 0.86, main.scale()),
    );
    main.mark(
        "actual bar",
        &chart::bars(&ranges, &nothing, actual, 0.4, main.scale()),
    );
    main.mark(
        "truth mark",
        &chart::levels(&ranges, &per_bar[0], 0.86, main.scale()),
    );

    let reached = bins
        .iter()
        .rposition(|bin| bin.intervals > 0)
        .map_or(0, |last| last + 1);
    let total: [Series; 3] =
        [0, 1, 2].map(|side| running(bins.iter().map(|bin| bin.rain[side]), reached));
    let believed = match report.traffic.rain_um {
        Some(_) => {
            let depths = report
                .traffic
                .bins
                .iter()
                .map(|bin| bin.rain_um as f64 / 1000.0);
            running(depths, reached)
        }
        None => Vec::new(),
    };
    let most = extent(total.iter().chain([&believed])).1;
    let last = |series: &Series| quantity(series.iter().copied().flatten().last(), 1, "mm");
    let mut sum = Chart::new(
        Scale::from_zero(most, 1.0, 4),
        TALL,
        format!(
            "Running total of rain, at the end: truth {}, twin {}, actual head {}, believed by the \
             receiver {}.",
            last(&total[0]),
            last(&total[1]),
            last(&total[2]),
            last(&believed)
        ),
    )
    .heading("running total");
    sum.mark("twin", &chart::line(&total[1], sum.scale(), 1));
    sum.mark("actual", &chart::line(&total[2], sum.scale(), 1));
    sum.mark("believed", &chart::line(&believed, sum.scale(), 1));
    sum.mark("truth", &chart::line(&total[0], sum.scale(), 1));
    let note = format!(
        "Bars: sum per {}. Long dashes: believed by the receiver. Truth: the liquid part alone.",
        wording::span(bar_us)
    );
    frame.figure(RAINFALL.title, RAINFALL.unit, &note, &[main, sum])
}

/// What was heard, how strong it was, and what was not believed.
fn link(report: &Report, frame: &Frame, bins: &[Bin]) -> String {
    let traffic = &report.traffic;
    let share = |part: fn(&traffic::Bin) -> u32| -> Series {
        traffic
            .bins
            .iter()
            .zip(bins)
            .map(|(bin, read)| {
                let whole = f64::from(read.intervals);
                (read.intervals > 0).then(|| (f64::from(part(bin)) / whole * 100.0).min(100.0))
            })
            .collect()
    };
    let mut believed = Chart::new(
        Scale::fixed(0.0, 100.0, &[0.0, 50.0, 100.0]),
        LOW,
        format!(
            "Share of the intervals whose observation was believed: {} of {} sent, in {} intervals.",
            wording::count(traffic.observations()),
            wording::count(traffic.sent[0]),
            wording::count(report.tally.intervals)
        ),
    );
    believed.mark(
        "sent",
        &chart::steps(&share(|bin| bin.sent), believed.scale()),
    );
    believed.mark(
        "heard",
        &chart::steps(&share(|bin| bin.believed), believed.scale()),
    );
    let mut html = frame.figure(
        "Observations believed",
        "% of intervals",
        "Pale: sent by the head. Dark: believed by the receiver.",
        &[believed],
    );

    let of = |value: fn(&Spread) -> f64| -> Series {
        traffic
            .bins
            .iter()
            .map(|bin| (bin.signal.number > 0).then(|| value(&bin.signal)))
            .collect()
    };
    let (low, high) = (of(|s| s.least), of(|s| s.most));
    let middle: Series = traffic.bins.iter().map(|bin| bin.signal.mean()).collect();
    let extremes = extent([&low, &high]);
    let mut signal = Chart::new(
        Scale::around(extremes.0, extremes.1, 5.0, 3),
        LOW,
        format!(
            "Signal strength of {} packets at the antenna, mean {}.",
            wording::count(traffic.heard),
            quantity(mean(&middle), 1, "dBm")
        ),
    );
    signal.mark("range", &chart::range(&low, &high, signal.scale()));
    signal.mark("actual", &chart::line(&middle, signal.scale(), 1));
    html.push_str(&frame.figure(
        "Signal strength",
        "dBm",
        "Every packet at the antenna, whoever sent it.",
        &[signal],
    ));
    if traffic.refusals() + traffic.duplicates + traffic.late > 0 {
        html.push_str(&odd_packets(report, frame));
    }
    html
}

/// Refused, duplicate and late packets, one bar upon the other.
fn odd_packets(report: &Report, frame: &Frame) -> String {
    let traffic = &report.traffic;
    let (bar_us, ranges) = frame.timeline.bars();
    let sum = |part: fn(&traffic::Bin) -> u32| -> Vec<f64> {
        let of = |range: &(usize, usize)| -> f64 {
            let members = traffic.bins.get(range.0..range.1).unwrap_or_default();
            members.iter().map(|bin| f64::from(part(bin))).sum()
        };
        ranges.iter().map(of).collect()
    };
    let add = |a: &[f64], b: &[f64]| -> Vec<f64> { a.iter().zip(b).map(|(a, b)| a + b).collect() };
    let nothing = vec![0.0; ranges.len()];
    let refused = sum(|bin| bin.refused);
    let with_duplicates = add(&refused, &sum(|bin| bin.duplicate));
    let with_late = add(&with_duplicates, &sum(|bin| bin.late));
    let highest = with_late.iter().copied().fold(0.0, f64::max);
    let mut odd = Chart::new(
        Scale::from_zero(highest, 2.0, 3),
        LOW,
        format!(
            "Packets that brought no news, per {}: {} refused, {} duplicates, {} late.",
            wording::span(bar_us),
            wording::count(traffic.refusals()),
            wording::count(traffic.duplicates),
            wording::count(traffic.late)
        ),
    );
    let scale = odd.scale().clone();
    odd.mark(
        "refused",
        &chart::bars(&ranges, &nothing, &refused, 0.8, &scale),
    );
    odd.mark(
        "duplicate",
        &chart::bars(&ranges, &refused, &with_duplicates, 0.8, &scale),
    );
    odd.mark(
        "late",
        &chart::bars(&ranges, &with_duplicates, &with_late, 0.8, &scale),
    );
    frame.figure(
        "Refused, duplicate and late packets",
        &format!("per {}", wording::span(bar_us)),
        "From the foot: refused (dark), duplicate (middle), late (white).",
        &[odd],
    )
}

/// Store, reserve cells and rail.
fn supply(report: &Report, frame: &Frame, bins: &[Bin]) -> String {
    // Health is sent in every 64th interval; in narrow bins a line bridges those between.
    let every_us = i64::from(HEALTH_EVERY) * frame.timeline.interval_us;
    let bridge = (every_us * 3 / 2 / frame.timeline.width_us + 1) as usize;
    let names = [
        (1, "Store voltage", ""),
        (
            2,
            "Reserve cells voltage",
            "Bar at the foot: the head ran on its reserve cells.",
        ),
        (0, "Supply voltage", ""),
    ];
    let mut html = String::new();
    for (kind, title, note) in names {
        let of = |side: usize| -> Series {
            bins.iter()
                .map(|bin| bin.volts[side][kind].mean().map(|mv| mv / 1000.0))
                .collect()
        };
        let (twin, actual) = (of(0), of(1));
        let extremes = extent([&twin, &actual]);
        let lowest = actual.iter().copied().flatten().reduce(f64::min);
        let highest = actual.iter().copied().flatten().reduce(f64::max);
        let sentence = format!(
            "{title} of the actual head: bin means between {} and {}; twin's mean {}.",
            quantity(lowest, 2, "V"),
            quantity(highest, 2, "V"),
            quantity(mean(&twin), 2, "V")
        );
        let scale = Scale::around(extremes.0, extremes.1, 0.2, 3);
        let mut volts = Chart::new(scale, LOW, sentence);
        volts.mark("twin", &chart::line(&twin, volts.scale(), bridge));
        volts.mark("actual", &chart::line(&actual, volts.scale(), bridge));
        if kind == 2 {
            let runs = chart::runs(bins.len(), |bin| {
                2 * bins[bin].on_cells > bins[bin].intervals
            });
            let foot: String = runs
                .iter()
                .map(|(begin, end)| format!("M{} 985h{}", 2 * begin, 2 * (end - begin)))
                .collect();
            volts.mark("foot", &foot);
        }
        html.push_str(&frame.figure(title, "V", note, &[volts]));
    }
    if report.tally.alive[1] < report.tally.intervals {
        let dead = report.tally.intervals - report.tally.alive[1];
        html.push_str(&format!(
            "<p>The head was off in {}: nothing was read and nothing was sent.</p>",
            wording::plural(dead, "interval", "intervals")
        ));
    }
    html
}
