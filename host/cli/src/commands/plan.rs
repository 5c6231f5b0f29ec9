//! `plan`: how many chips of a bag to test, and what the count then says.

use crate::exit::{DONE_TABLE, Failure, Status};
use crate::output::Output;
use clap::Args;
use dipsift_plan::iso2859::{self, Aql, Level, Severity};
use dipsift_plan::{Bag, PlanError, SCOPE, Share, Tally, yield_interval};
use serde_json::{Value, json};
use std::io::{self, Write};

/// Arguments of `plan`.
#[derive(Debug, Args)]
#[command(after_help = DONE_TABLE)]
pub struct Plan {
    /// How many chips of one type and date code the bag holds
    #[arg(long, value_name = "N", value_parser = clap::value_parser!(u64).range(1..=10_000_000))]
    pub size: u64,
    /// The share of bad chips that the plan shall find out, in per cent
    #[arg(long, value_name = "PERCENT", default_value_t = 5.0)]
    pub bad: f64,
    /// How sure to be, in per cent
    #[arg(long, value_name = "PERCENT", default_value_t = 95.0)]
    pub confidence: f64,
    /// So many have been tested: say what follows
    #[arg(long, value_name = "N", requires = "found_bad")]
    pub tested: Option<u64>,
    /// So many of the tested were bad
    #[arg(long, value_name = "N", requires = "tested")]
    pub found_bad: Option<u64>,
    /// The acceptance quality limit for the reference to ISO 2859-1, in per
    /// cent: 0.25, 0.4, 0.65, 1, 1.5, 2.5, 4, 6.5 or 10
    #[arg(long, value_name = "PERCENT", default_value_t = 1.0)]
    pub aql: f64,
}

fn wrong(error: PlanError) -> Failure {
    Failure::usage(error.to_string())
}

/// A share that is typed in per cent, as an option.
fn percent(option: &str, percent: f64) -> Result<Share, Failure> {
    Share::percent(percent).map_err(|_| {
        Failure::usage(format!("{option} {percent}: more than 0 and less than 100 per cent"))
    })
}

/// A zero-acceptance plan for a share of bad chips.
struct Zero {
    percent: f64,
    bad: u64,
    sample: u64,
}

/// What a sample has shown.
struct Shown {
    tested: u64,
    found: u64,
    yields: dipsift_plan::Interval,
    bad: dipsift_plan::BadCount,
}

struct Answer {
    zero: Zero,
    others: Vec<Zero>,
    endless: u64,
    shown: Option<Shown>,
    standard: Result<iso2859::Plan, PlanError>,
}

fn answer(args: &Plan) -> Result<Answer, Failure> {
    let bag = Bag::new(args.size).map_err(wrong)?;
    let confidence = percent("--confidence", args.confidence)?;
    let share = percent("--bad", args.bad)?;
    let zero = |percent: f64| -> Result<Zero, Failure> {
        let bad = bag.bad_chips(Share::percent(percent).map_err(wrong)?);
        let sample = bag.zero_acceptance(bad, confidence.rest()).map_err(wrong)?;
        Ok(Zero { percent, bad, sample })
    };
    let shown = match args.tested.zip(args.found_bad) {
        None => None,
        Some((tested, found)) => {
            let bad = Tally::new(found, tested).map_err(wrong)?;
            let good = Tally::new(bad.tested() - bad.found(), tested).map_err(wrong)?;
            Some(Shown {
                tested,
                found,
                yields: yield_interval(good, confidence),
                bad: bag.bad_count(found, tested, confidence).map_err(wrong)?,
            })
        }
    };
    let aql = Aql::of_percent(args.aql).ok_or_else(|| {
        Failure::usage(format!(
            "{} is no acceptance quality limit that is kept here: 0.25, 0.4, 0.65, 1, 1.5, 2.5, 4, 6.5 or 10",
            args.aql
        ))
    })?;
    Ok(Answer {
        zero: zero(args.bad)?,
        others: [2.5, 5.0, 10.0, 20.0].into_iter().map(zero).collect::<Result<_, _>>()?,
        endless: dipsift_plan::zero_acceptance(share, confidence),
        shown,
        standard: iso2859::plan(args.size, Level::II, aql, Severity::Normal),
    })
}

/// Prints the plans.
pub fn run(args: &Plan, out: &mut Output) -> Result<Status, Failure> {
    let answer = answer(args)?;
    if out.json {
        out.object(Status::Go, object(args, &answer))?;
    } else {
        page(args, &answer, out)?;
    }
    Ok(Status::Go)
}

fn object(args: &Plan, answer: &Answer) -> Value {
    let zero = |plan: &Zero| json!({ "bad_percent": plan.percent, "bad_chips": plan.bad, "test": plan.sample });
    json!({
        "size": args.size,
        "confidence_percent": args.confidence,
        "zero_acceptance": zero(&answer.zero),
        "zero_acceptance_endless_supply": answer.endless,
        "others": answer.others.iter().map(zero).collect::<Vec<_>>(),
        "shown": answer.shown.as_ref().map(|shown| json!({
            "tested": shown.tested,
            "bad": shown.found,
            "yield": { "lower": shown.yields.lower, "upper": shown.yields.upper },
            "bad_in_bag": { "least": shown.bad.least, "most": shown.bad.most },
        })),
        "iso_2859_1": answer.standard.as_ref().ok().map(|plan| json!({
            "level": "II", "severity": "normal", "aql_percent": args.aql, "letter": plan.letter.to_string(),
            "sample": plan.sample, "accept": plan.accept, "reject": plan.reject,
        })),
        "scope": SCOPE,
    })
}

/// A tenth, rounded away from the middle of its interval.
fn outwards(tenths: f64, round: fn(f64) -> f64) -> f64 {
    round((tenths * 1e6).round() / 1e6) / 10.0
}

fn page(args: &Plan, answer: &Answer, out: &mut Output) -> io::Result<()> {
    let (size, sure) = (args.size, args.confidence);
    let chips = if size == 1 { "chip" } else { "chips" };
    out.heading(&format!("a bag of {size} {chips} of one type and date code"))?;
    let insertions = if size == 1 { "insertion" } else { "insertions" };
    out.labelled("test all", &format!(
        "{size} {insertions}; finds every chip that this check can find out, and is the only way to take the bad ones out"
    ))?;
    let zero = &answer.zero;
    if zero.sample >= size {
        out.labelled(
            "",
            &format!(
                "(no smaller sample says that less than {} % are bad, with {sure} % confidence)",
                zero.percent
            ),
        )?;
    } else {
        out.labelled("or test", &format!(
            "{} drawn at random. If none is bad, then with {sure} % confidence fewer than {} of the {size} are bad \
             (less than {} %). If one is bad, test all",
            zero.sample, zero.bad, zero.percent
        ))?;
        out.labelled(
            "",
            &format!("(from an endless supply it would take {}; a bag is finite)", answer.endless),
        )?;
    }
    writeln!(out)?;
    out.heading(&format!("plans that accept on no bad chip, {sure} % confidence"))?;
    writeln!(out, "  bad share   bad chips   test")?;
    for plan in &answer.others {
        writeln!(out, "  {:>7} %   {:>9}   {:>4}", plan.percent, plan.bad, plan.sample)?;
    }
    if let Some(shown) = &answer.shown {
        writeln!(out)?;
        out.heading(&format!("after {} tested, {} of them bad", shown.tested, shown.found))?;
        out.labelled("bag", &format!(
            "with {sure} % confidence {} to {} of the {size} chips are bad, the found ones included",
            shown.bad.least, shown.bad.most
        ))?;
        out.labelled("source", &format!(
            "the yield of the source that the sample stands for is {:.1} to {:.1} % (exact binomial interval)",
            outwards(1000.0 * shown.yields.lower, f64::floor), outwards(1000.0 * shown.yields.upper, f64::ceil)
        ))?;
    }
    writeln!(out)?;
    out.heading("for reference: ISO 2859-1, single sampling, level II, normal inspection")?;
    match &answer.standard {
        Ok(plan) => {
            let most = match plan.accept {
                0 => "if none is bad".into(),
                some => format!("with up to {some} bad"),
            };
            out.labelled("", &format!(
                "at an acceptance quality limit of {} %: code letter {}, test {}, accept the lot {most}, reject it from {} bad on; \
                 bad chips that are found are taken out either way",
                args.aql, plan.letter, plan.sample, plan.reject
            ))?;
        }
        Err(error) => out.labelled("", &error.to_string())?,
    }
    writeln!(out)?;
    out.heading("what these numbers do not promise")?;
    out.items(SCOPE)
}
