use preen_domain::{answers::*, facts::*, fleet::*, ids::*, time::Instant};
use uuid::Uuid;
pub fn fleet() -> Fleet {
    let tables = preen_api::demo::tables::read().unwrap();
    let mut fleet = Fleet::new(Club {
        id: ClubId(Uuid::from_u128(1)),
        tag: tables.club.short_name,
        title: tables.club.title,
        zone: tables.club.time_zone,
    });
    let now: Instant = "2026-05-21T08:00:00Z".parse().unwrap();
    for (revision, row) in (1..).zip(tables.rows) {
        fleet.apply(&Recorded {
            fact: row.fact,
            recorded_at: now,
            recorded_by: MemberId(Uuid::from_u128(2)),
            revision,
        });
    }
    fleet
}
#[test]
fn dump() {
    let fleet = fleet();
    let now: Instant = "2026-05-21T08:00:00Z".parse().unwrap();
    let moment = Moment { as_of: now, on: "2026-05-23".parse().unwrap(), pilot: None };
    for m in may_fly(&fleet, moment).models {
        println!(
            "{} {} may_fly={} max={:?} left={:?} restr={:?} next={:?}",
            m.model,
            m.state,
            m.may_fly,
            m.max_flights,
            m.flights_left,
            m.restrictions
                .iter()
                .map(|r| format!("{} {:?} {}", r.kind, r.value, r.source))
                .collect::<Vec<_>>(),
            m.next_due.map(|n| format!("{} {}", n.group, n.on))
        );
        for r in m.reasons {
            println!("      [{}] {} {}: {} => {}", r.severity, r.code, r.subject, r.text, r.clear_by);
        }
    }
    for (id, _) in fleet.models() {
        println!("{:?}", model_usage(&fleet, id, now));
        let b = balance(&fleet, id, now).unwrap();
        println!(
            "   {:?} m={:.2} x={:.3} y={:.2} z={:.2} moved={:?} nose={:?} mac={:?} changes={:?} list={:?}",
            b.method,
            b.mass_g,
            b.x_mm,
            b.y_mm,
            b.z_mm,
            b.moved_since_weighing_mm,
            b.nose_weight_g,
            b.mac_pct,
            b.changes.len(),
            b.list
        );
    }
    for d in due(&fleet, moment).items {
        println!(
            "{} {} {} done {:?}@{:?} due {:?}/{:?} left {:?}/{:?} over {:?}/{:?} fc {:?} {:?} {:?} {:?}",
            d.model,
            d.group,
            d.state,
            d.done_at_count,
            d.done_on,
            d.due_at_count,
            d.due_on,
            d.count_left,
            d.days_left,
            d.count_over,
            d.days_over,
            d.forecast_on,
            d.forecast_from,
            d.forecast_to,
            d.note
        );
    }
    let c = |t: &str| ComponentId(fleet.id_of_tag(Noun::Components, &t.parse().unwrap()).unwrap());
    println!("{:#?}", component_usage(&fleet, c("SV08-B011"), now));
    let h = component_history(&fleet, c("JN-SG-01-L"), now);
    println!("{} {:?}", h.riggings, h.riggings_since_repair);
    for e in h.events {
        println!("{} {} {:?} {} r{} {}", e.at, e.kind, e.tag, e.by, e.riggings, e.text);
    }
    let w = whereabouts(
        &fleet,
        &WhereQuestion {
            batch: Some("B".parse().unwrap()),
            part: Some(PartId(fleet.id_of_tag(Noun::Parts, &"SV08".parse().unwrap()).unwrap())),
            ..Default::default()
        },
        moment,
    );
    println!("{:?}", w.models);
    for r in w.components {
        println!("{r:?}");
    }
}
