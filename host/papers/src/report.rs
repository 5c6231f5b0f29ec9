//! The report of a lot.

use crate::chart::{self, CONFIDENCE_PERCENT, MOST_TYPES, Yield};
use crate::page::document;
use crate::words::{count, day, days, minute, percent};
use crate::{Photo, chips, map};
use dipsift_ledger::{
    Insertion, Lot, LotReport, MemoryMap, Nature, Remark, RemarkKind, Selftest, Stored,
};
use dipsift_plan::SCOPE;
use jiff::Timestamp;
use jiff::tz::TimeZone;
use maud::{Markup, html};
use std::collections::BTreeMap;

/// What a report shows one by one.
#[derive(Clone, Debug, Default)]
pub struct Lists {
    /// Insertions that count, of chips that are not good.
    pub not_good: Vec<Stored<Insertion>>,
    /// Insertions that count, of good chips. Either list may be shorter than the lot: the report
    /// then says how many are left out.
    pub good: Vec<Stored<Insertion>>,
    /// Insertions that count and have a failure map.
    pub mapped: Vec<Stored<Insertion>>,
    /// Remarks about the lot and its insertions.
    pub remarks: Vec<Stored<Remark>>,
    /// The last self-test of each tester since the day of the first insertion.
    pub selftests: Vec<Stored<Selftest>>,
    /// The photographs of the remarks, by their paths as recorded.
    pub photos: BTreeMap<String, Photo>,
    /// What each part does, by its number: `quad 2-input NAND gate`.
    pub titles: BTreeMap<String, String>,
}

/// A lot, and how it is to be reported.
#[derive(Clone, Copy, Debug)]
pub struct LotPaper<'a> {
    /// The lot.
    pub lot: &'a Stored<Lot>,
    /// What it comes to.
    pub report: &'a LotReport,
    /// What is shown one by one.
    pub lists: &'a Lists,
    /// When the report is made.
    pub at: Timestamp,
    /// Where the bench stands: its days are not those of others.
    pub zone: &'a TimeZone,
}

const STYLE: &str = "\
@page{size:A4;margin:14mm 15mm}\
:root{color-scheme:light;background:#fff}\
body{font:10pt/1.4 'DejaVu Sans',Arial,sans-serif;color:#111;max-width:180mm;margin:8mm auto;padding:0 4mm;\
-webkit-print-color-adjust:exact;print-color-adjust:exact}\
h1{font-size:20pt;margin:0}h2{font-size:13pt;margin:7mm 0 2mm;break-after:avoid}\
h3{font-size:11pt;margin:4mm 0 1mm;break-after:avoid}p{margin:1mm 0}\
.light{color:#444;font-weight:normal}ul{margin:1mm 0;padding-left:5mm}\
.figures{display:flex;flex-wrap:wrap;gap:2mm 11mm;margin:4mm 0;padding:2mm 0;\
border-top:0.4mm solid #111;border-bottom:0.2mm solid #bbb}\
.figure b{display:block;font-size:19pt;line-height:1.2}\
.caution{border:0.4mm dashed #7a4a00;background:#f8ecd8;padding:2mm 4mm;margin:3mm 0;break-inside:avoid}\
table{border-collapse:collapse;width:100%;font-size:8.5pt;margin:1mm 0 3mm}\
th,td{border-bottom:0.2mm solid #bbb;padding:0.6mm 1.5mm;text-align:left;vertical-align:top}\
td.number,.figure{font-variant-numeric:tabular-nums}\
th{border-bottom:0.4mm solid #111;white-space:nowrap}tr{break-inside:avoid}thead{display:table-header-group}\
.number{text-align:right}.nowrap{white-space:nowrap}\
svg{max-width:100%;height:auto;display:block;break-inside:avoid}\
.row{display:flex;flex-wrap:wrap;gap:5mm}.row figure{margin:0;break-inside:avoid}\
figcaption{font-size:8.5pt}\
.photos{margin:2mm 0}.photos figure{max-width:86mm}\
.photos img{display:block;max-width:100%;max-height:90mm}.photos figcaption{overflow-wrap:anywhere}\
svg text{font-size:12px;fill:#111}svg text.small{font-size:10.5px;fill:#222}\
svg text.strong{font-weight:bold}\
.grid{stroke:#bbb;stroke-width:1}.axis{stroke:#111;stroke-width:1.4}\
.good{fill:#e3eefa;stroke:#14508c;stroke-width:1.2}\
.bad{fill:#f8ecd8;stroke:#7a4a00;stroke-width:1.2;stroke-dasharray:3 2}\
.halo{stroke:#fff;stroke-width:4;fill:none}.whisker{stroke:#111;stroke-width:1.6;fill:none}\
.curve{stroke:#111;stroke-width:1.2;fill:none}.dot{fill:#111}\
.plane{fill:#e3eefa;stroke:#14508c;stroke-width:1;vector-effect:non-scaling-stroke}\
.cell{fill:#7a1000;stroke:#7a1000;stroke-width:0.8;vector-effect:non-scaling-stroke}\
@media print{body{margin:0;padding:0}}";

/// The report as one HTML file that prints on A4.
pub fn lot_report(paper: &LotPaper<'_>) -> String {
    let title = format!("lot {}", paper.lot.entry.name);
    document(
        &title,
        STYLE,
        html! {
            (head(paper))
            (figures(paper))
            (simulated(paper))
            (yields(paper))
            (failures(paper))
            (speeds(paper))
            (maps(paper))
            (testers(paper))
            (remarks(paper))
            @if !paper.report.types.is_empty() {
                h2 { "Part by part" }
                (chips::parts(paper))
            }
            (promises())
        },
    )
}

fn head(paper: &LotPaper<'_>) -> Markup {
    let lot = &paper.lot.entry;
    let report = paper.report;
    html! {
        h1 { "Lot " (lot.name) }
        @if let Some(description) = &lot.description { p { (description) } }
        p.light {
            "begun " (day(lot.at, paper.zone))
            @if let Some((first, last)) = report.first.zip(report.last) {
                ", screened " (days(day(first, paper.zone), day(last, paper.zone)))
            }
            "; report of " (minute(paper.at, paper.zone)) ". "
            (count(report.insertions, "insertion", "insertions"))
            @if report.undone > 0 { ", " (report.undone) " undone" }
            @if report.replaced > 0 { ", " (report.replaced) " replaced by a later one of the same chip" }
            "; each chip counts once."
        }
    }
}

fn figures(paper: &LotPaper<'_>) -> Markup {
    let chips = paper.report.chips();
    let other = chips.total() - chips.decided();
    html! {
        div class="figures" {
            div.figure { b { (chips.total()) } "chips" }
            div.figure { b { (chips.go) } "good" }
            div.figure { b { (chips.no_go) } "bad" }
            @if other > 0 { div.figure { b { (other) } "neither" } }
            @if let Some(share) = Yield::of(chips.go, chips.decided()) {
                div class="figure" { b { (percent(share.share)) } "yield; " (CONFIDENCE_PERCENT) " % interval " (share.interval()) }
            }
        }
        @if paper.report.types.len() > 1 {
            p.light { "These are of all types together, which says nothing about any of them: see below for each." }
        }
    }
}

fn simulated(paper: &LotPaper<'_>) -> Markup {
    let not_real: u64 = paper
        .report
        .testers
        .iter()
        .filter(|line| line.tester.nature != Nature::Real)
        .map(|line| line.chips)
        .sum();
    html! {
        @if not_real > 0 {
            p.caution {
                strong { "SIMULATED: " }
                (count(not_real, "result comes", "results come"))
                " from a simulated or emulated tester and say nothing about real chips."
            }
        }
    }
}

fn yields(paper: &LotPaper<'_>) -> Markup {
    let types = &paper.report.types;
    html! {
        h2 { "Yield" }
        @if types.is_empty() {
            p { "No chip has been screened." }
        } @else {
            (chart::yields(types))
            @if types.len() > MOST_TYPES {
                p.light { (types.len() - MOST_TYPES) " further types are in the list below." }
            }
            p.light {
                "Of the tested chips the counts are all there is to know. The line across each bar is the exact "
                "binomial interval (Clopper and Pearson, 1934; " (CONFIDENCE_PERCENT) " %) for the source that the "
                "chips are a random sample of, and for nothing else."
            }
        }
    }
}

fn failures(paper: &LotPaper<'_>) -> Markup {
    let pins = &paper.report.pins;
    let left_out = chart::pins_left_out(pins);
    html! {
        @if !pins.is_empty() {
            h2 { "What failed" }
            (chart::pareto(pins))
            @if left_out > 0 {
                p.light { (count(left_out as u64, "rarer failure is", "rarer failures are")) " not shown." }
            }
        }
    }
}

fn speeds(paper: &LotPaper<'_>) -> Markup {
    let speeds = &paper.report.speeds;
    html! {
        @if !speeds.is_empty() {
            h2 { "Speed grades of the good chips" }
            div.row {
                @for group in speeds.chunk_by(|a, b| a.chip == b.chip) {
                    figure { (chart::speeds(&group[0].chip, &group.iter().collect::<Vec<_>>())) }
                }
            }
            p.light { "A grade is what a chip reached on this bench, at room temperature and one supply voltage." }
        }
    }
}

fn maps(paper: &LotPaper<'_>) -> Markup {
    let maps: Vec<(&Stored<Insertion>, Option<MemoryMap>)> = paper
        .lists
        .mapped
        .iter()
        .map(|stored| {
            let bytes = stored.entry.memory_map.as_ref();
            (stored, bytes.and_then(|bytes| MemoryMap::from_hex(bytes).ok()))
        })
        .collect();
    html! {
        @if !maps.is_empty() {
            h2 { "Memory failure maps" }
            div.row {
                @for (stored, map) in &maps {
                    figure {
                        @match map {
                            Some(map) => {
                                (map::failures(map))
                                figcaption {
                                    (chips::caption(stored)) ": " (map.failing_cells()) " of "
                                    (u64::from(map.words()) * u64::from(map.bits())) " cells fail"
                                    @if map::words_in_a_tile(map) > 1 {
                                        "; " (map::words_in_a_tile(map)) " words a tile"
                                    }
                                }
                            }
                            None => figcaption { (chips::caption(stored)) ": a map of another form, not drawn" },
                        }
                    }
                }
            }
            p.light { "Dark cells fail. By logical address: its low half across, its high half down. Where a cell lies on the chip is the maker's." }
        }
    }
}

fn testers(paper: &LotPaper<'_>) -> Markup {
    html! {
        @if !paper.report.testers.is_empty() {
            h2 { "Tested by" }
            table {
                thead { tr {
                    th { "tester" } th { "nature" } th { "firmware" } th.number { "chips" } th { "last self-test since the lot's first day" }
                } }
                tbody {
                    @for line in &paper.report.testers {
                        @let selftest = paper.lists.selftests.iter().filter(|test| test.entry.tester.name == line.tester.name).max_by_key(|test| test.entry.at);
                        tr {
                            td { (line.tester.name) } td { (line.tester.nature) } td { (line.tester.firmware) }
                            td.number { (line.chips) }
                            td {
                                @match selftest {
                                    Some(test) => {
                                        (if test.entry.passed { "passed" } else { "NOT PASSED" })
                                        ", " (minute(test.entry.at, paper.zone))
                                    }
                                    None => "none recorded",
                                }
                            }
                        }
                    }
                }
            }
        }
    }
}

fn remarks(paper: &LotPaper<'_>) -> Markup {
    let remarks = &paper.lists.remarks;
    let shown: Vec<(&Stored<Remark>, &str)> = remarks
        .iter()
        .filter(|remark| remark.entry.kind == RemarkKind::Photo)
        .filter_map(|remark| match paper.lists.photos.get(&remark.entry.text) {
            Some(Photo::Shown(address)) => Some((remark, address.as_str())),
            _ => None,
        })
        .collect();
    html! {
        @if !remarks.is_empty() {
            h2 { "Notes and pictures" }
            ul {
                @for remark in remarks {
                    li {
                        span.light { (minute(remark.entry.at, paper.zone)) " " }
                        @if remark.entry.kind == RemarkKind::Photo { "picture: " }
                        (remark.entry.text)
                        @if let Some(Photo::Left(why)) = paper.lists.photos.get(&remark.entry.text) {
                            @if remark.entry.kind == RemarkKind::Photo {
                                span.light { " (not shown: " (why) ")" }
                            }
                        }
                    }
                }
            }
            @if !shown.is_empty() {
                div class="row photos" {
                    @for (remark, address) in &shown {
                        figure {
                            img src=(address) alt=(remark.entry.text);
                            figcaption { (remark.entry.text) }
                        }
                    }
                }
            }
        }
    }
}

fn promises() -> Markup {
    html! {
        section.caution {
            h3 { "What these numbers do not promise" }
            ul {
                li { "good means: the chip did what its description says in this socket, at one supply and room temperature; "
                     "this is functional screening, never requalification" }
                @for sentence in SCOPE { li { (sentence) } }
            }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_lot_without_chips_has_a_report() {
        let mut ledger = dipsift_ledger::Ledger::in_memory(Some(3)).unwrap();
        let at = "2026-11-25T19:00:00Z".parse().unwrap();
        let lot = Lot { at, name: "<empty> & new".into(), description: None };
        ledger.add_lot(&lot).unwrap();
        let stored = ledger.lot("<empty> & new").unwrap().unwrap();
        let report = ledger.report(&dipsift_ledger::Selection::lot("<empty> & new")).unwrap();
        let lists = Lists::default();
        let zone = TimeZone::UTC;
        let page =
            lot_report(&LotPaper { lot: &stored, report: &report, lists: &lists, at, zone: &zone });
        assert!(page.contains("<h1>Lot &lt;empty&gt; &amp; new</h1>"), "{page}");
        assert!(page.contains("No chip has been screened."), "{page}");
    }
}
