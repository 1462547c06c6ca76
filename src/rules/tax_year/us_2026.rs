//! United States, 2026.

use super::profile::{FormStanding, MileageRate, Profile, Section179Limits, figure, from_memory, seen};
use super::us;

pub(super) const PROFILE: Profile = Profile {
    jurisdiction: us::JURISDICTION,
    year: 2026,
    currency: us::CURRENCY,
    form: us::FORM,
    standing: FormStanding::Provisional,
    lines: &[
        us::PART_I,
        us::PART_II_TO_26,
        us::OTHER_ON_27B,
        us::PART_II_FROM_28,
        us::PART_III,
        us::PART_IV,
        us::PART_V,
    ],
    other_expenses_line: "27b",
    lines_source: from_memory("the form of 2026 has not been seen: as for 2025"),
    section_179: Section179Limits {
        maximum: figure(2_560_000, 0, seen("Rev. Proc. 2025-32")),
        shrinks_from: figure(4_090_000, 0, seen("Rev. Proc. 2025-32")),
        heavy_vehicle: figure(32_000, 0, seen("IRC 179(b)(5) for 2026, in a secondary source")),
    },
    special_allowance: us::SPECIAL_ALLOWANCE,
    de_minimis_per_item: us::DE_MINIMIS,
    de_minimis_with_statement: us::DE_MINIMIS_WITH_STATEMENT,
    materials_per_unit: us::MATERIALS_UNIT,
    mileage: MileageRate {
        per_mile: figure(725, 3, seen("Notice 2026-10")),
        depreciation_part: figure(35, 2, seen("Notice 2026-10")),
    },
    home_office: us::HOME_OFFICE,
    information_return: figure(2_000, 0, seen("IRC 6041(a) as amended by P.L. 119-21, payments after 2025")),
    simple_stock_receipts: figure(32_000_000, 0, from_memory("Rev. Proc. 2025-32")),
    tips_deduction: Some(seen("IRC 224; T.D. 10044, 91 FR 19026")),
};
