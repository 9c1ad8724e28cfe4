//! What the bench calculators share: they compute here, by the functions that the service uses, and need none. How
//! masses, places and supports are typed, and how questions and mass lists are read from files.
//!
//! Numbers are joined by colons: `MASS:X`, `MASS:X:Y`, `MASS:X:Y:Z`, in grams and millimetres, x aft of the datum, y
//! right of the centreline, z up. A name may follow after `=`.

use preen_domain::answers::compute::{
    BadQuestion, BalanceChange, BalanceItem, BallastCell, BallastSlug, CgRange, MacPlace, RepeatedWeighing,
    WeighedSupport, answer,
};
use preen_domain::formulas::balance::MassAndCg;
use preen_domain::formulas::planform::AreaDefinition;
use preen_domain::formulas::support_check::WholeMass;
use serde::Serialize;
use serde::de::DeserializeOwned;

use super::nouns::read_text;
use crate::Io;
use crate::failure::{Failure, say_field};

/// A question from a file, or from the input for `-`, in the JSON shape that the service takes too.
pub fn read_question<Q: DeserializeOwned>(io: &mut Io<'_>, file: &str) -> Result<Q, Failure> {
    let text = read_text(io, file)?;
    let reader = &mut serde_json::Deserializer::from_str(&text);
    let question = serde_path_to_error::deserialize(&mut *reader).map_err(|error| {
        let path = match error.path().to_string().as_str() {
            "." => String::new(),
            path => format!(" at {path}"),
        };
        let what = error.into_inner();
        match what.classify() {
            serde_json::error::Category::Data => {
                Failure::bad_input(format!("{file}{path}: {}.", first_upper(&what.to_string())))
            }
            _ => Failure::bad_input(format!("{file} is not JSON: {what}.")),
        }
    })?;
    reader.end().map_err(|error| Failure::bad_input(format!("{file} is not JSON: {error}.")))?;
    Ok(question)
}

/// Answers a question here, without a service: the answer, and the same as JSON.
pub fn compute<Q: Serialize, A: Serialize>(
    question: &Q,
    by: impl FnOnce(&Q) -> Result<A, BadQuestion>,
) -> Result<(A, String), Failure> {
    let answer =
        answer(question, by).map_err(|bad| Failure::bad_input(say_field(&bad.pointer, &bad.text)))?;
    let json = serde_json::to_string(&answer)
        .map_err(|error| Failure::bad_input(format!("The answer cannot be written: {error}.")))?;
    Ok((answer, json))
}

fn first_upper(text: &str) -> String {
    let mut letters = text.chars();
    letters.next().map(|first| first.to_uppercase().chain(letters).collect()).unwrap_or_default()
}

/// Numbers joined by colons.
pub fn numbers(text: &str, least: usize, most: usize, form: &str) -> Result<Vec<f64>, String> {
    let wrong = || format!("`{text}` is not {form}");
    let numbers: Vec<f64> = text
        .split(':')
        .map(|part| part.trim().parse::<f64>().ok().filter(|number| number.is_finite()).ok_or_else(wrong))
        .collect::<Result<_, _>>()?;
    if (least..=most).contains(&numbers.len()) { Ok(numbers) } else { Err(wrong()) }
}

/// One of them, or 0 when it was not given.
pub fn at(numbers: &[f64], index: usize) -> f64 {
    numbers.get(index).copied().unwrap_or(0.0)
}

/// A mass and where its centre of gravity is: `MASS:X[:Y[:Z]]`.
pub fn mass_and_cg(text: &str) -> Result<MassAndCg, String> {
    let all = numbers(text, 2, 4, "MASS:X, MASS:X:Y or MASS:X:Y:Z")?;
    Ok(MassAndCg { mass_g: at(&all, 0), x_mm: at(&all, 1), y_mm: at(&all, 2), z_mm: at(&all, 3) })
}

/// An item of a mass list: `MASS:X[:Y[:Z]][=NAME]`.
pub fn item(text: &str) -> Result<BalanceItem, String> {
    let (place, name) = named(text);
    let MassAndCg { mass_g, x_mm, y_mm, z_mm } = mass_and_cg(place)?;
    Ok(BalanceItem { item: name.to_owned(), mass_g, x_mm, y_mm, z_mm, ..BalanceItem::default() })
}

/// A change: `MASS:X[:Y[:Z]][=NAME]`, negative for what comes off.
pub fn change(text: &str) -> Result<BalanceChange, String> {
    let (place, name) = named(text);
    let MassAndCg { mass_g, x_mm, y_mm, z_mm } = mass_and_cg(place)?;
    Ok(BalanceChange { item: name.to_owned(), mass_change_g: mass_g, x_mm, y_mm, z_mm })
}

fn named(text: &str) -> (&str, &str) {
    text.split_once('=').unwrap_or((text, ""))
}

/// A range of the centre of gravity: `FRONT:REAR`.
pub fn range(text: &str) -> Result<CgRange, String> {
    let all = numbers(text, 2, 2, "FRONT:REAR")?;
    Ok(CgRange { front_x_mm: at(&all, 0), rear_x_mm: at(&all, 1) })
}

/// The mean aerodynamic chord: `LEADING_EDGE:LENGTH`.
pub fn mac(text: &str) -> Result<MacPlace, String> {
    let all = numbers(text, 2, 2, "LEADING_EDGE:LENGTH")?;
    Ok(MacPlace { le_x_mm: at(&all, 0), mac_mm: at(&all, 1) })
}

/// A support: `X:READING` or `X:Y:READING`.
pub fn support(text: &str) -> Result<WeighedSupport, String> {
    let all = numbers(text, 2, 3, "X:READING or X:Y:READING")?;
    let (y_mm, reading_g) = if all.len() == 2 { (0.0, at(&all, 1)) } else { (at(&all, 1), at(&all, 2)) };
    Ok(WeighedSupport { reading_g, tare_g: 0.0, x_mm: at(&all, 0), y_mm })
}

/// All supports of one more weighing: `X[:Y]:READING`, joined by commas.
pub fn supports(text: &str) -> Result<RepeatedWeighing, String> {
    Ok(RepeatedWeighing { supports: text.split(',').map(support).collect::<Result<_, _>>()? })
}

/// The whole model on one scale: `MASS:U`.
pub fn whole(text: &str) -> Result<WholeMass, String> {
    let all = numbers(text, 2, 2, "MASS:U")?;
    Ok(WholeMass { mass_g: at(&all, 0), u_g: at(&all, 1) })
}

/// Slugs of one stamped mass: `MASS:COUNT[=NAME]`.
pub fn slug(text: &str) -> Result<BallastSlug, String> {
    let (numbers, name) = named(text);
    let wrong = || format!("`{text}` is not MASS:COUNT");
    let (mass, count) = numbers.split_once(':').ok_or_else(wrong)?;
    Ok(BallastSlug {
        slug: name.to_owned(),
        mass_g: mass.trim().parse::<f64>().ok().filter(|mass_g| mass_g.is_finite()).ok_or_else(wrong)?,
        count: count.trim().parse().map_err(|_not_whole| wrong())?,
    })
}

/// A cell for slugs: `X[:Y]:CAPACITY[=NAME]`.
pub fn cell(text: &str) -> Result<BallastCell, String> {
    let (place, name) = named(text);
    let wrong = || format!("`{text}` is not X:CAPACITY or X:Y:CAPACITY");
    let (place, capacity) = place.rsplit_once(':').ok_or_else(wrong)?;
    let all = numbers(place, 1, 2, "X:CAPACITY or X:Y:CAPACITY").map_err(|_no_numbers| wrong())?;
    Ok(BallastCell {
        cell: name.to_owned(),
        x_mm: at(&all, 0),
        y_mm: at(&all, 1),
        capacity: capacity.trim().parse().map_err(|_not_whole| wrong())?,
        pair: None,
    })
}

/// Which area of a model counts.
pub fn area(text: &str) -> Result<AreaDefinition, String> {
    serde_json::from_value(text.into()).map_err(|error| error.to_string())
}

/// Slugs from rows `slug,mass_g,count` under a heading; other columns are not looked at, so that the club's own list
/// serves.
pub fn slugs_of_csv(file: &str, text: &str) -> Result<Vec<BallastSlug>, Failure> {
    let mut reader = csv::ReaderBuilder::new().trim(csv::Trim::All).from_reader(text.as_bytes());
    let broken = |error: &csv::Error| Failure::bad_input(format!("{file} is not CSV: {error}."));
    let heading = reader.headers().map_err(|error| broken(&error))?.clone();
    let column = |wanted: &str| {
        heading.iter().position(|name| name == wanted).ok_or_else(|| {
            Failure::bad_input(format!("{file}, line 1: the column `{wanted}` is missing."))
                .hint("The columns are slug, mass_g and count.")
        })
    };
    let (slug, mass_g, count) = (column("slug")?, column("mass_g")?, column("count")?);
    let mut slugs = Vec::new();
    for record in reader.records() {
        let record = record.map_err(|error| broken(&error))?;
        let line = record.position().map_or(0, csv::Position::line);
        let of = |column: usize| record.get(column).unwrap_or_default();
        let wrong = |name: &str, column: usize, what: &str| {
            Failure::bad_input(format!("{file}, line {line}: {name} `{}` is not {what}.", of(column)))
        };
        let mass = of(mass_g).parse::<f64>().ok().filter(|mass_g| mass_g.is_finite());
        slugs.push(BallastSlug {
            slug: of(slug).to_owned(),
            mass_g: mass.ok_or_else(|| wrong("mass_g", mass_g, "a number"))?,
            count: of(count).parse().map_err(|_not_whole| wrong("count", count, "a whole number"))?,
        });
    }
    Ok(slugs)
}

/// A mass list from lines `item,mass_g,x_mm[,y_mm[,z_mm[,own_span_mm[,own_length_mm]]]]` under a heading that names the columns.
pub fn items_of_csv(file: &str, text: &str) -> Result<Vec<BalanceItem>, Failure> {
    let mut lines = text.lines().enumerate().filter(|(_, line)| !line.trim().is_empty());
    let heading: Vec<&str> =
        lines.next().map(|(_, line)| line.split(',').map(str::trim).collect()).unwrap_or_default();
    let known = ["item", "mass_g", "x_mm", "y_mm", "z_mm", "own_span_mm", "own_length_mm"];
    if let Some(other) = heading.iter().find(|name| !known.contains(name)) {
        return Err(Failure::bad_input(format!("{file}, line 1: there is no column `{other}`."))
            .hint(format!("The columns are {}; mass_g and x_mm are needed.", known.join(", "))));
    }
    if let Some(absent) = ["mass_g", "x_mm"].iter().find(|name| !heading.contains(name)) {
        return Err(Failure::bad_input(format!("{file}, line 1: the column `{absent}` is missing.")));
    }
    lines.map(|(index, line)| read_item(file, index + 1, &heading, line)).collect()
}

fn read_item(file: &str, number: usize, heading: &[&str], line: &str) -> Result<BalanceItem, Failure> {
    let cells: Vec<&str> = line.split(',').map(str::trim).collect();
    if cells.len() != heading.len() {
        return Err(Failure::bad_input(format!(
            "{file}, line {number}: {} cells stand under {} headings.",
            cells.len(),
            heading.len()
        )));
    }
    let mut item = BalanceItem::default();
    for (name, cell) in heading.iter().zip(cells) {
        if *name == "item" {
            cell.clone_into(&mut item.item);
            continue;
        }
        let value = cell.parse::<f64>().ok().filter(|value| value.is_finite()).ok_or_else(|| {
            Failure::bad_input(format!("{file}, line {number}: {name} `{cell}` is not a number."))
        })?;
        match *name {
            "mass_g" => item.mass_g = value,
            "x_mm" => item.x_mm = value,
            "y_mm" => item.y_mm = value,
            "z_mm" => item.z_mm = value,
            "own_length_mm" => item.own_length_mm = value,
            _ => item.own_span_mm = value,
        }
    }
    Ok(item)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn places_are_read_with_their_signs() {
        let change = change("-2.5:985:0:-14=tail servo off").unwrap();
        assert_eq!((change.mass_change_g, change.x_mm, change.z_mm), (-2.5, 985.0, -14.0));
        assert_eq!(change.item, "tail servo off");
        let support = support("-60:-150:426").unwrap();
        assert_eq!((support.x_mm, support.y_mm, support.reading_g), (-60.0, -150.0, 426.0));
        assert_eq!(super::support("-60:878").unwrap().reading_g, 878.0);
    }

    #[test]
    fn what_is_no_place_is_refused() {
        for bad in ["", "5", "5:x", "5:NaN", "5:inf", "1:2:3:4:5"] {
            assert!(mass_and_cg(bad).is_err(), "{bad:?}");
        }
        assert!(support("1:2:3:4").is_err());
    }

    #[test]
    fn wrong_lines_of_a_list_are_named() {
        let refused = |text: &str| items_of_csv("list.csv", text).unwrap_err().text;
        assert_eq!(refused("item,mass_g\na,1\n"), "list.csv, line 1: the column `x_mm` is missing.");
        assert_eq!(refused("mass,x_mm\n1,2\n"), "list.csv, line 1: there is no column `mass`.");
        assert_eq!(
            refused("mass_g,x_mm\n1,2\n\n1,2,3\n"),
            "list.csv, line 4: 3 cells stand under 2 headings."
        );
        assert_eq!(refused("mass_g,x_mm\n1,inf\n"), "list.csv, line 2: x_mm `inf` is not a number.");
        assert_eq!(items_of_csv("list.csv", "x_mm,mass_g,item\n7,1.5,glue\n").unwrap()[0].mass_g, 1.5);
    }
}
