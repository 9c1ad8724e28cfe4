//! Joiners: section properties, sanding, bending, rock and clearance, abrasive grades, and rules of repairs that hold
//! a number.

use preen_domain::formulas::class::ClassLimits;
use preen_domain::formulas::joiner::abrasive::{
    AbrasiveVerdict, CARBON_GUARD_GRADE, FINISH_GRADE, GRADES_UM, START_GRADE, grain_um, judge_on_carbon,
};
use preen_domain::formulas::joiner::bending::{JointLoad, bend_joint, stress_mpa};
use preen_domain::formulas::joiner::rock::{
    CLEARANCE_LIMITS_MM, LooseSockets, READ_TO_MM, RockGeometry, clearance_mm, field_limits, rock_mm,
};
use preen_domain::formulas::joiner::sanding::{SandedFaces, SandingLife, judge_sanding, sand};
use preen_domain::formulas::joiner::section::{Section, SectionProperties, properties, thin_tube_mm4};
use preen_domain::formulas::scarf::{ScarfKind, hinge_moment_change_g_mm, scarf_rule, takes_scarf_patch};

use crate::close::close;

fn of(section: Section) -> SectionProperties {
    properties(&section).expect("a section")
}

fn relative(case: &str, computed: f64, expected: f64, tolerance: f64) {
    close(case, computed / expected, 1.0, tolerance);
}

#[test]
fn hollow_rectangle() {
    // Closed form (B·H³ − b·h³)/12; 20 × 12 outside, 16 × 8 inside.
    let hollow = of(Section::Box { width_mm: 20.0, height_mm: 12.0, cap_mm: 2.0, web_mm: 2.0 });
    relative("A", hollow.area_mm2, 112.0, 1e-9);
    relative("I", hollow.i_vertical_mm4, 2197.333333, 1e-9);
    relative("S", hollow.z_vertical_mm3, 366.2222222, 1e-9);
    relative("r", hollow.gyration_vertical_mm, 4.429339411, 1e-9);
}

#[test]
fn solid_rectangle() {
    // Closed form b·h³/12, b·h²/6.
    let solid = of(Section::Rectangle { width_mm: 8.0, height_mm: 12.0 });
    assert_eq!((solid.area_mm2, solid.i_vertical_mm4, solid.z_vertical_mm3), (96.0, 1152.0, 192.0));
}

#[test]
fn round_tube() {
    // Closed form π(D⁴ − d⁴)/64.
    let tube = of(Section::Tube { diameter_mm: 12.0, bore_mm: 10.0 });
    relative("A", tube.area_mm2, 34.55751919, 1e-9);
    relative("I", tube.i_vertical_mm4, 527.0021676, 1e-9);
    relative("S", tube.z_vertical_mm3, 87.83369461, 1e-9);
    relative("J", tube.polar_mm4, 1054.004335, 1e-9);
    relative("r", tube.gyration_vertical_mm, 3.905124838, 1e-9);
    // Thin wall π·R³·t and how low it reads.
    let thin = thin_tube_mm4(5.5, 1.0).expect("computable");
    relative("thin I", thin, 522.6824777, 1e-9);
    close("thin against exact", thin / tube.i_vertical_mm4 - 1.0, -0.0081967213, 1e-8);
}

#[test]
fn solid_ellipse_and_round_bar() {
    // Closed form π·b·h³/64; a circle is the ellipse with equal axes, a tube without bore is a bar.
    let ellipse = of(Section::Ellipse { width_mm: 20.0, height_mm: 10.0 });
    relative("I", ellipse.i_vertical_mm4, 981.7477042, 1e-9);
    relative("Z fore-aft", ellipse.z_fore_aft_mm3, 392.6990817, 1e-9);
    let bar = of(Section::Round { diameter_mm: 10.0 });
    assert_eq!(bar, of(Section::Ellipse { width_mm: 10.0, height_mm: 10.0 }));
    assert_eq!(bar, of(Section::Tube { diameter_mm: 10.0, bore_mm: 0.0 }));
}

#[test]
fn pair_of_caps() {
    // Parallel axes; 18 mm is the outer height over both caps.
    let caps = of(Section::Caps { width_mm: 12.0, height_mm: 18.0, cap_mm: 1.5 });
    assert_eq!(caps.i_vertical_mm4, 2457.0);
}

#[test]
fn stress_at_the_root() {
    // σ = M/S: 45 N m on 366.2 mm³.
    let stress = stress_mpa(45.0, 366.222_222_222_222_23).expect("computable");
    relative("σ", stress, 122.8762136, 1e-8);
}

const TIP_JOINER: Section = Section::Box { width_mm: 26.0, height_mm: 12.0, cap_mm: 2.0, web_mm: 1.5 };
const SLOPE_JOINER: Section = Section::Rectangle { width_mm: 20.0, height_mm: 13.0 };

fn sanded_z(section: &Section, depth_mm: f64) -> (f64, f64) {
    let sanded = sand(section, &SandedFaces::all(depth_mm)).expect("computable");
    (sanded.after.z_vertical_mm3, sanded.z_vertical_change_pct)
}

#[test]
fn sanding_of_the_worked_example() {
    // Worked example, computed independently: a box loses more than a bar.
    close("Z new", of(TIP_JOINER).z_vertical_mm3, 460.4, 0.05);
    for (depth_mm, change_pct) in [(0.05, -3.1), (0.10, -6.1), (0.20, -12.1)] {
        close(&format!("box, {depth_mm} mm"), sanded_z(&TIP_JOINER, depth_mm).1, change_pct, 0.05);
    }
    let bar = Section::Rectangle { width_mm: 26.0, height_mm: 12.0 };
    close("solid bar, 0.10 mm", sanded_z(&bar, 0.10).1, -4.0, 0.05);
}

#[test]
fn a_tenth_off_all_four_faces() {
    // Worked example: Z −6.1 %, height 11.80; an inspector for more.
    let faces = SandedFaces::all(0.10);
    let sanded = sand(&TIP_JOINER, &faces).expect("computable");
    close("height", sanded.after.height_mm, 11.80, 1e-9);
    close("Z", sanded.z_vertical_change_pct, -6.1, 0.05);
    assert_eq!(judge_sanding(&faces), SandingLife::Within);
    let more = faces.plus(&SandedFaces { top_mm: 0.01, ..SandedFaces::default() });
    assert_eq!(judge_sanding(&more), SandingLife::InspectorNeeded);
    assert_eq!(judge_sanding(&SandedFaces::all(0.20)), SandingLife::Never);
}

#[test]
fn bending_of_the_tip_joint() {
    // Worked example, computed independently.
    let bent = bend_joint(&JointLoad {
        model_mass_g: 1202.5,
        half_span_mm: 1950.0,
        joint_y_mm: 960.0,
        outboard_mass_g: 130.5,
        outboard_cg_y_mm: 1392.0,
        load_factor: 10.0,
    })
    .expect("computable");
    close("share", bent.lift_share, 0.400, 0.0005);
    close("lift at", bent.lift_at_y_mm, 1366.0, 0.5);
    close("lift", bent.lift_moment_nm, 9.57, 0.005);
    close("relief", bent.relief_moment_nm, 5.53, 0.005);
    close("moment", bent.moment_nm, 4.04, 0.005);
    let stress = |depth| stress_mpa(bent.moment_nm, sanded_z(&TIP_JOINER, depth).0).expect("computable");
    close("stress", stress(0.0), 8.8, 0.05);
    close("stress sanded", stress(0.10), 9.3, 0.05);
}

#[test]
fn bending_of_the_slope_model() {
    // Worked example, computed independently: two-piece wing, ballast at the root.
    let bent = bend_joint(&JointLoad {
        model_mass_g: 2900.0,
        half_span_mm: 1490.0,
        joint_y_mm: 0.0,
        outboard_mass_g: 620.0,
        outboard_cg_y_mm: 600.0,
        load_factor: 25.0,
    })
    .expect("computable");
    close("lift", bent.lift_moment_nm, 224.8, 0.05);
    close("relief", bent.relief_moment_nm, 91.2, 0.05);
    close("moment", bent.moment_nm, 133.6, 0.05);
    let stress = |depth| stress_mpa(bent.moment_nm, sanded_z(&SLOPE_JOINER, depth).0).expect("computable");
    close("stress", stress(0.0), 237.0, 0.5);
    close("stress sanded", stress(0.10), 247.0, 0.5);
    close("solid bar, 0.10 mm", sanded_z(&SLOPE_JOINER, 0.10).1, -4.0, 0.05);
}

const TIP: RockGeometry = RockGeometry { engagement_mm: 105.0, panel_mm: 990.0, loose: LooseSockets::One };

#[test]
fn rock_of_the_worked_example() {
    // Worked example, computed independently.
    let both = RockGeometry { loose: LooseSockets::Both, ..TIP };
    for (clearance, one_mm, both_mm) in
        [(0.05, 0.94, 1.89), (0.12, 2.26, 4.53), (0.20, 3.77, 7.54), (0.35, 6.60, 13.20)]
    {
        close("one socket", rock_mm(clearance, &TIP).expect("computable"), one_mm, 0.005);
        close("both sockets", rock_mm(clearance, &both).expect("computable"), both_mm, 0.005);
    }
    close("3.0 mm back, one", clearance_mm(3.0, &TIP).expect("computable"), 0.159, 0.0005);
    close("3.0 mm back, both", clearance_mm(3.0, &both).expect("computable"), 0.080, 0.0005);
    // The field check of that type: watch 2.3, restrict 3.8, ground 6.6 mm.
    assert_eq!(field_limits(&TIP, &CLEARANCE_LIMITS_MM, READ_TO_MM), Ok(ClassLimits::new(2.3, 3.8, 6.6)));
}

#[test]
fn grades_of_abrasive() {
    // FEPA / ISO 6344, mean grain in µm: macro grits from a secondary table, micro grits from memory (P2500 seen).
    let macro_grits = [
        (12, 1815.0),
        (16, 1324.0),
        (20, 1000.0),
        (24, 764.0),
        (30, 642.0),
        (36, 538.0),
        (40, 425.0),
        (50, 336.0),
        (60, 269.0),
        (80, 201.0),
        (100, 162.0),
        (120, 125.0),
    ];
    let micro_grits = [
        (180, 82.0),
        (220, 68.0),
        (240, 58.5),
        (280, 52.2),
        (320, 46.2),
        (360, 40.5),
        (400, 35.0),
        (500, 30.2),
        (600, 25.8),
        (800, 21.8),
        (1000, 18.3),
        (1200, 15.3),
        (1500, 12.6),
        (2000, 10.3),
        (2500, 8.4),
    ];
    assert_eq!(GRADES_UM.len(), macro_grits.len() + micro_grits.len());
    for (grade, um) in macro_grits.into_iter().chain(micro_grits) {
        assert_eq!(grain_um(grade), Ok(um), "P{grade}");
    }
}

#[test]
fn paper_for_carbon() {
    // Common practice, no source: 600 then 800, from 400 only where the joiner will not enter, never 100 to 200.
    let verdict = |grade| judge_on_carbon(grade, CARBON_GUARD_GRADE).expect("a grade").verdict;
    assert_eq!(verdict(START_GRADE), AbrasiveVerdict::Usual);
    assert_eq!(verdict(FINISH_GRADE), AbrasiveVerdict::Usual);
    assert_eq!(verdict(400), AbrasiveVerdict::OnlyToEnter);
    for coarse in [100, 120, 180, 320] {
        assert_eq!(verdict(coarse), AbrasiveVerdict::TooCoarse);
        let paper = judge_on_carbon(coarse, CARBON_GUARD_GRADE).expect("a grade");
        let caution = paper.caution.expect("a caution");
        assert!(caution.contains(&format!("mean grain of {} µm", paper.grain_um)), "{caution}");
    }
}

#[test]
fn rules_of_repairs_that_hold_a_number() {
    let slope = |kind| scarf_rule(kind).expect("a rule");
    // FAA AC 43.13-1B ch. 1, p. 1-26 and figs 1-15, 1-16 (wood): not steeper than 1:12.
    assert_eq!(slope(ScarfKind::PlywoodSkin).length_per_thickness, 12.0);
    // FAA AC 43.13-1B fig. 1-6: plate ends feathered 5:1.
    assert_eq!(slope(ScarfKind::PlateEnd).length_per_thickness, 5.0);
    // FAA AC 43.13-1B ch. 1: a scarfed patch where the radius exceeds 100 times the thickness.
    assert_eq!(takes_scarf_patch(101.0, 1.0), Ok(true));
    assert_eq!(takes_scarf_patch(100.0, 1.0), Ok(false));
    // FAA AC 43.13-1B para 1-38: no weight aft of the hinge line; what sits ahead of it is no harm.
    assert!(hinge_moment_change_g_mm(0.3, 40.0).expect("computable") > 0.0);
    assert!(hinge_moment_change_g_mm(0.3, -5.0).expect("computable") < 0.0);
    // Common practice, no source: composite tapers are longer, and say so.
    for (kind, long) in
        [(ScarfKind::LeadingEdge, 10.0), (ScarfKind::SparCap, 50.0), (ScarfKind::BoomWall, 20.0)]
    {
        assert_eq!(slope(kind).length_per_thickness, long);
        assert!(slope(kind).source.contains("no source"));
    }
}
