//! Default feedstock table: what a market garden puts on a heap, and where each value was found.
//!
//! A row describes the material as it goes into the bay: fresh, chopped or torn where that is
//! usual, loosely filled. Farms override rows and add their own. The carbon a row implies, nitrogen
//! times C:N, lies between 0.40 and 0.60 of volatile solids; where a printed pair of nitrogen and
//! C:N breaks that, a value inside the printed range was taken and a comment says so. Figures in
//! brackets in comments are nitrogen % of dry mass and C:N of the neighbour reasoned from.

use super::Structure::{self, Matting, Mixed, Porous};
use super::source::Source::{
    self, AsaeD384Memory, Chandler1980, CoffeeArticleRead, Estimate, Golueke1972Read, Gotaas1956Read,
    GotaasCarbon, MaterialsTableRead, Nraes54Memory, Nraes54Read, Nrc2001Memory, Tchobanoglous1993Memory,
};

/// A table value and its source.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Sourced {
    /// The value, in the unit of its field.
    pub value: f64,
    /// Where it was found.
    pub source: Source,
}

/// One feedstock.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Row {
    /// Stable key, snake case.
    pub id: &'static str,
    /// Name a grower would use.
    pub name: &'static str,
    /// Water as a share of wet mass.
    pub moisture_fraction: Sourced,
    /// Nitrogen as a share of dry mass.
    pub nitrogen_fraction: Sourced,
    /// Carbon to nitrogen, by mass.
    pub c_to_n: Sourced,
    /// Ash as a share of dry mass.
    pub ash_fraction: Sourced,
    /// Wet mass per volume as added to a bay, loose, kg/m3.
    pub bulk_density_kg_m3: Sourced,
    /// Share of volatile solids that degrades readily: sugars, starch, protein, soft cellulose.
    pub fast_fraction: Sourced,
    /// Share of volatile solids that degrades slowly; the rest resists.
    pub slow_fraction: Sourced,
    /// Whether it holds the heap open.
    pub structure: Structure,
    /// One line for a grower; empty where there is nothing to warn of.
    pub note: &'static str,
}

/// A value with its source.
const fn s(value: f64, source: Source) -> Sourced {
    Sourced { value, source }
}

/// The default feedstocks.
#[rustfmt::skip]
pub const TABLE: &[Row] = &[
    // Fresh crop and garden greens.
    // C:N inside Golueke's 12-15: NRAES-54's 17 with its 3.4 % nitrogen asks for more carbon than there is.
    // Lignin 3.0 % of volatile solids: 0.830 - 0.028 x 3.0 = 0.75.
    Row { id: "grass_mowings", name: "Grass mowings", structure: Matting,
        moisture_fraction: s(0.82, Nraes54Memory), nitrogen_fraction: s(0.034, Nraes54Memory),
        c_to_n: s(14.0, Golueke1972Read), ash_fraction: s(0.11, Estimate),
        bulk_density_kg_m3: s(210.0, Nraes54Memory), fast_fraction: s(0.4, Estimate), slow_fraction: s(0.35, Chandler1980),
        note: "Packs and sours on its own: mix with brown. From treated turf, herbicide may carry over." },
    // Nitrogen and C:N of cabbage.
    Row { id: "leafy_crop_waste", name: "Leafy crop waste", structure: Matting,
        moisture_fraction: s(0.9, Estimate), nitrogen_fraction: s(0.036, Gotaas1956Read),
        c_to_n: s(12.0, Gotaas1956Read), ash_fraction: s(0.14, Estimate),
        bulk_density_kg_m3: s(250.0, Estimate), fast_fraction: s(0.5, Estimate), slow_fraction: s(0.3, Estimate),
        note: "" },
    // Between potato tops (1.5 %, 25) and tomato (3.3 %, 12).
    Row { id: "crop_stems", name: "Crop stems and vines (tomato, bean, squash)", structure: Mixed,
        moisture_fraction: s(0.75, Estimate), nitrogen_fraction: s(0.02, Estimate),
        c_to_n: s(22.0, Estimate), ash_fraction: s(0.14, Estimate),
        bulk_density_kg_m3: s(130.0, Estimate), fast_fraction: s(0.22, Estimate), slow_fraction: s(0.36, Estimate),
        note: "Chop or shred; cut away string and clips. Heat well if blighted." },
    // Nitrogen and C:N of turnip tops.
    Row { id: "root_tops", name: "Root crop tops", structure: Matting,
        moisture_fraction: s(0.87, Estimate), nitrogen_fraction: s(0.023, Gotaas1956Read),
        c_to_n: s(19.0, Gotaas1956Read), ash_fraction: s(0.16, Estimate),
        bulk_density_kg_m3: s(200.0, Estimate), fast_fraction: s(0.46, Estimate), slow_fraction: s(0.32, Estimate),
        note: "" },
    // NRAES-54's 940 kg/m3 is packed produce; whole culls lie looser.
    Row { id: "vegetable_culls", name: "Vegetable culls", structure: Matting,
        moisture_fraction: s(0.87, Nraes54Memory), nitrogen_fraction: s(0.027, Nraes54Read),
        c_to_n: s(19.0, Nraes54Read), ash_fraction: s(0.08, Estimate),
        bulk_density_kg_m3: s(600.0, Estimate), fast_fraction: s(0.58, Estimate), slow_fraction: s(0.26, Estimate),
        note: "Break up whole roots and squash; bury in the heap away from vermin." },
    Row { id: "spoiled_fruit", name: "Spoiled fruit", structure: Matting,
        moisture_fraction: s(0.8, Nraes54Memory), nitrogen_fraction: s(0.014, Nraes54Read),
        c_to_n: s(40.0, Nraes54Read), ash_fraction: s(0.04, Estimate),
        bulk_density_kg_m3: s(650.0, Estimate), fast_fraction: s(0.65, Estimate), slow_fraction: s(0.18, Estimate),
        note: "Wet and sugary: layer with dry brown and cover." },
    Row { id: "potato_haulm", name: "Potato haulm", structure: Mixed,
        moisture_fraction: s(0.8, Estimate), nitrogen_fraction: s(0.015, Golueke1972Read),
        c_to_n: s(25.0, Golueke1972Read), ash_fraction: s(0.14, Estimate),
        bulk_density_kg_m3: s(120.0, Estimate), fast_fraction: s(0.22, Estimate), slow_fraction: s(0.36, Estimate),
        note: "Blighted haulm needs a hot heap; tubers survive a cool one." },
    // Near red clover (1.8 %, 27), greener.
    Row { id: "pea_bean_haulm", name: "Pea and bean haulm", structure: Mixed,
        moisture_fraction: s(0.7, Estimate), nitrogen_fraction: s(0.02, Estimate),
        c_to_n: s(22.0, Estimate), ash_fraction: s(0.1, Estimate),
        bulk_density_kg_m3: s(100.0, Estimate), fast_fraction: s(0.24, Estimate), slow_fraction: s(0.38, Estimate),
        note: "" },
    // Inside the printed 0.6-0.8 % and 60-73.
    Row { id: "sweetcorn_stalks", name: "Sweetcorn stalks, chopped", structure: Porous,
        moisture_fraction: s(0.7, Estimate), nitrogen_fraction: s(0.007, Nraes54Read),
        c_to_n: s(65.0, Nraes54Read), ash_fraction: s(0.07, Estimate),
        bulk_density_kg_m3: s(90.0, Estimate), fast_fraction: s(0.18, Estimate), slow_fraction: s(0.42, Estimate),
        note: "Chop: whole stalks outlast the heap." },
    // Between mixed grasses (2.4 %, 19) and non-legume vegetables (2.5-4 %, 11-12).
    Row { id: "green_manure", name: "Green manure, cut green", structure: Matting,
        moisture_fraction: s(0.82, Estimate), nitrogen_fraction: s(0.028, Estimate),
        c_to_n: s(16.0, Estimate), ash_fraction: s(0.11, Estimate),
        bulk_density_kg_m3: s(200.0, Estimate), fast_fraction: s(0.36, Estimate), slow_fraction: s(0.34, Estimate),
        note: "" },
    // Near non-legume vegetables (2.5-4 %, 11-12).
    Row { id: "comfrey_nettles", name: "Comfrey and nettles", structure: Matting,
        moisture_fraction: s(0.87, Estimate), nitrogen_fraction: s(0.035, Estimate),
        c_to_n: s(11.0, Estimate), ash_fraction: s(0.18, Estimate),
        bulk_density_kg_m3: s(220.0, Estimate), fast_fraction: s(0.45, Estimate), slow_fraction: s(0.32, Estimate),
        note: "Leaves and stems only: comfrey root regrows." },
    // Nitrogen and C:N of amaranth; ash with clinging soil.
    Row { id: "annual_weeds", name: "Annual weeds", structure: Mixed,
        moisture_fraction: s(0.83, Estimate), nitrogen_fraction: s(0.036, Gotaas1956Read),
        c_to_n: s(11.0, Gotaas1956Read), ash_fraction: s(0.2, Estimate),
        bulk_density_kg_m3: s(200.0, Estimate), fast_fraction: s(0.4, Estimate), slow_fraction: s(0.33, Estimate),
        note: "Seeds live through a cool heap." },
    // Between annual weeds and grass hay; ash with clinging soil.
    Row { id: "perennial_weeds", name: "Perennial weeds with roots", structure: Mixed,
        moisture_fraction: s(0.75, Estimate), nitrogen_fraction: s(0.018, Estimate),
        c_to_n: s(22.0, Estimate), ash_fraction: s(0.2, Estimate),
        bulk_density_kg_m3: s(220.0, Estimate), fast_fraction: s(0.28, Estimate), slow_fraction: s(0.34, Estimate),
        note: "Roots of couch, bindweed and dock regrow unless heated through or dried first." },
    // Nitrogen and C:N of fern.
    Row { id: "bracken", name: "Bracken", structure: Porous,
        moisture_fraction: s(0.65, Estimate), nitrogen_fraction: s(0.0115, Gotaas1956Read),
        c_to_n: s(43.0, Gotaas1956Read), ash_fraction: s(0.06, Estimate),
        bulk_density_kg_m3: s(80.0, Estimate), fast_fraction: s(0.12, Estimate), slow_fraction: s(0.34, Estimate),
        note: "Cut before it spores; spores and sap are harmful, so wear a mask and gloves." },
    // NRAES-54's moisture, as remembered 53 %, is for part-dried weed.
    Row { id: "seaweed", name: "Seaweed", structure: Matting,
        moisture_fraction: s(0.75, Estimate), nitrogen_fraction: s(0.019, Nraes54Read),
        c_to_n: s(19.0, Nraes54Read), ash_fraction: s(0.28, Estimate),
        bulk_density_kg_m3: s(400.0, Estimate), fast_fraction: s(0.4, Estimate), slow_fraction: s(0.25, Estimate),
        note: "Salty: rinse or rain-wash, and keep to a small share of the heap." },
    // Leaves, wood and other browns.
    // 43 days in a laboratory took 61 % of leaf cellulose and 57 % of hemicellulose (Yard Waste Composting: Studies
    // Using Different Mixes of Leaves and Grass; abstract read; Michel, Reddy and Forney 1993 from memory).
    Row { id: "tree_leaves", name: "Tree leaves", structure: Matting,
        moisture_fraction: s(0.38, MaterialsTableRead), nitrogen_fraction: s(0.009, Nraes54Read),
        c_to_n: s(54.0, Nraes54Read), ash_fraction: s(0.1, Estimate),
        bulk_density_kg_m3: s(100.0, Nraes54Memory), fast_fraction: s(0.13, Estimate), slow_fraction: s(0.37, Estimate),
        note: "Shred or mix: whole leaves mat and shed water." },
    // NRAES-54 shrub trimmings, there 15 % moist and 255 kg/m3.
    Row { id: "hedge_trimmings", name: "Hedge trimmings", structure: Porous,
        moisture_fraction: s(0.5, Estimate), nitrogen_fraction: s(0.01, Nraes54Memory),
        c_to_n: s(53.0, Nraes54Memory), ash_fraction: s(0.05, Estimate),
        bulk_density_kg_m3: s(150.0, Estimate), fast_fraction: s(0.15, Estimate), slow_fraction: s(0.28, Estimate),
        note: "Shred; leathery evergreens and thorns are slow." },
    // Between shrub trimmings (1.0 %, 53) and hardwood (0.09 %, 560), nearer the first for its bark and twigs.
    Row { id: "shredded_prunings", name: "Shredded prunings", structure: Porous,
        moisture_fraction: s(0.45, Estimate), nitrogen_fraction: s(0.006, Estimate),
        c_to_n: s(80.0, Estimate), ash_fraction: s(0.03, Estimate),
        bulk_density_kg_m3: s(230.0, Estimate), fast_fraction: s(0.08, Estimate), slow_fraction: s(0.22, Estimate),
        note: "" },
    // Moisture and density inside the printed 15-40 % and 264-368 kg/m3.
    Row { id: "hardwood_chips", name: "Hardwood chips", structure: Porous,
        moisture_fraction: s(0.35, MaterialsTableRead), nitrogen_fraction: s(0.0009, Nraes54Read),
        c_to_n: s(560.0, Nraes54Read), ash_fraction: s(0.015, Tchobanoglous1993Memory),
        bulk_density_kg_m3: s(310.0, MaterialsTableRead), fast_fraction: s(0.03, Estimate), slow_fraction: s(0.19, Estimate),
        note: "Holds the heap open; screen out and use again." },
    // Moisture and density inside the printed 15-40 % and 264-368 kg/m3.
    Row { id: "softwood_chips", name: "Softwood chips", structure: Porous,
        moisture_fraction: s(0.35, MaterialsTableRead), nitrogen_fraction: s(0.0009, Nraes54Read),
        c_to_n: s(641.0, Nraes54Read), ash_fraction: s(0.005, Estimate),
        bulk_density_kg_m3: s(310.0, MaterialsTableRead), fast_fraction: s(0.02, Estimate), slow_fraction: s(0.14, Estimate),
        note: "Holds the heap open; screen out and use again." },
    // Density inside the printed 207-267 kg/m3.
    Row { id: "sawdust", name: "Sawdust", structure: Mixed,
        moisture_fraction: s(0.39, Nraes54Memory), nitrogen_fraction: s(0.0011, Gotaas1956Read),
        c_to_n: s(511.0, Gotaas1956Read), ash_fraction: s(0.01, Estimate),
        bulk_density_kg_m3: s(240.0, MaterialsTableRead), fast_fraction: s(0.03, Estimate), slow_fraction: s(0.17, Estimate),
        note: "Not from treated or painted wood." },
    // Between hardwood (560) and softwood (641).
    Row { id: "wood_shavings", name: "Wood shavings", structure: Porous,
        moisture_fraction: s(0.12, Estimate), nitrogen_fraction: s(0.0009, Estimate),
        c_to_n: s(580.0, Estimate), ash_fraction: s(0.01, Estimate),
        bulk_density_kg_m3: s(110.0, Estimate), fast_fraction: s(0.03, Estimate), slow_fraction: s(0.15, Estimate),
        note: "Not from treated or painted wood. Wet it as it goes in." },
    // Nitrogen inside Golueke's 0.3-0.5 %. Printed density 135 kg/m3; shaken out it lies looser.
    // Lignin 9.6 % of volatile solids: 0.830 - 0.028 x 9.6 = 0.56.
    Row { id: "wheat_straw", name: "Wheat straw", structure: Porous,
        moisture_fraction: s(0.1, MaterialsTableRead), nitrogen_fraction: s(0.004, Golueke1972Read),
        c_to_n: s(127.0, Nraes54Read), ash_fraction: s(0.076, Nrc2001Memory),
        bulk_density_kg_m3: s(70.0, Estimate), fast_fraction: s(0.1, Estimate), slow_fraction: s(0.46, Chandler1980),
        note: "Herbicide may carry over. Wet it as it goes in." },
    // Lignin 8.2 % of volatile solids: 0.830 - 0.028 x 8.2 = 0.60.
    Row { id: "oat_straw", name: "Oat straw", structure: Porous,
        moisture_fraction: s(0.14, MaterialsTableRead), nitrogen_fraction: s(0.0105, Gotaas1956Read),
        c_to_n: s(48.0, Gotaas1956Read), ash_fraction: s(0.078, Nrc2001Memory),
        bulk_density_kg_m3: s(70.0, Estimate), fast_fraction: s(0.13, Estimate), slow_fraction: s(0.47, Chandler1980),
        note: "Herbicide may carry over. Wet it as it goes in." },
    // Moisture and nitrogen inside the printed 12-18 % (garbled there into a date) and 0.75-0.78 %.
    // Lignin 8.0 % of volatile solids: 0.830 - 0.028 x 8.0 = 0.61.
    Row { id: "barley_straw", name: "Barley straw", structure: Porous,
        moisture_fraction: s(0.15, MaterialsTableRead), nitrogen_fraction: s(0.0075, MaterialsTableRead),
        c_to_n: s(69.0, GotaasCarbon), ash_fraction: s(0.07, Nrc2001Memory),
        bulk_density_kg_m3: s(70.0, Estimate), fast_fraction: s(0.13, Estimate), slow_fraction: s(0.47, Chandler1980),
        note: "Herbicide may carry over. Wet it as it goes in." },
    // Lignin 6.0 % of volatile solids: 0.830 - 0.028 x 6.0 = 0.66.
    Row { id: "grass_hay", name: "Grass hay", structure: Mixed,
        moisture_fraction: s(0.1, Nraes54Memory), nitrogen_fraction: s(0.013, Nraes54Memory),
        c_to_n: s(32.0, Nraes54Memory), ash_fraction: s(0.075, Nrc2001Memory),
        bulk_density_kg_m3: s(80.0, Estimate), fast_fraction: s(0.22, Estimate), slow_fraction: s(0.44, Chandler1980),
        note: "Herbicide may carry over; full of seed." },
    // Moisture inside the printed 10-30 %.
    // Lignin 7.9 % of volatile solids: 0.830 - 0.028 x 7.9 = 0.61.
    Row { id: "legume_hay", name: "Legume hay", structure: Mixed,
        moisture_fraction: s(0.15, MaterialsTableRead), nitrogen_fraction: s(0.025, Nraes54Read),
        c_to_n: s(16.0, Nraes54Read), ash_fraction: s(0.09, Nrc2001Memory),
        bulk_density_kg_m3: s(80.0, Estimate), fast_fraction: s(0.28, Estimate), slow_fraction: s(0.33, Chandler1980),
        note: "" },
    // C:N inside the printed 400-563, at 44 % carbon. Printed density 154 kg/m3; torn flat sheets lie looser.
    // Lignin 12.9 % of volatile solids: 0.830 - 0.028 x 12.9 = 0.47.
    Row { id: "cardboard", name: "Cardboard, torn", structure: Mixed,
        moisture_fraction: s(0.08, MaterialsTableRead), nitrogen_fraction: s(0.001, Nraes54Read),
        c_to_n: s(440.0, Nraes54Read), ash_fraction: s(0.05, Tchobanoglous1993Memory),
        bulk_density_kg_m3: s(100.0, Estimate), fast_fraction: s(0.05, Estimate), slow_fraction: s(0.42, Chandler1980),
        note: "Take off tape and labels; wet it as it goes in." },
    // Inside the printed 0.20-0.25 % and 127-178. Degradable share between office paper (0.82) and newsprint (0.22).
    Row { id: "mixed_paper", name: "Mixed paper", structure: Matting,
        moisture_fraction: s(0.06, Tchobanoglous1993Memory), nitrogen_fraction: s(0.0025, MaterialsTableRead),
        c_to_n: s(175.0, MaterialsTableRead), ash_fraction: s(0.06, Tchobanoglous1993Memory),
        bulk_density_kg_m3: s(130.0, MaterialsTableRead), fast_fraction: s(0.05, Estimate), slow_fraction: s(0.47, Estimate),
        note: "Shred or crumple: flat sheets shut out air." },
    // Inside the printed 0.06-0.14 % and 398-852.
    // Lignin 21.9 % of volatile solids: 0.830 - 0.028 x 21.9 = 0.22.
    Row { id: "newsprint", name: "Newsprint", structure: Matting,
        moisture_fraction: s(0.06, Nraes54Memory), nitrogen_fraction: s(0.001, Nraes54Read),
        c_to_n: s(480.0, Nraes54Read), ash_fraction: s(0.015, Tchobanoglous1993Memory),
        bulk_density_kg_m3: s(130.0, Nraes54Memory), fast_fraction: s(0.02, Estimate), slow_fraction: s(0.2, Chandler1980),
        note: "Shred or crumple: flat sheets shut out air." },
    // Kitchen, mill and brewery.
    // Lignin by analysis is 20 %, part of it roast residue rather than true lignin, so Chandler's rule would read low.
    Row { id: "coffee_grounds", name: "Coffee grounds", structure: Matting,
        moisture_fraction: s(0.6, Estimate), nitrogen_fraction: s(0.0279, CoffeeArticleRead),
        c_to_n: s(20.0, Nraes54Read), ash_fraction: s(0.02, Estimate),
        bulk_density_kg_m3: s(500.0, Estimate), fast_fraction: s(0.22, Estimate), slow_fraction: s(0.3, Estimate),
        note: "Fine and clumping: scatter, a fifth of the heap at most." },
    // Raw garbage, C:N inside the printed 15-25.
    // Lignin 0.4 % of volatile solids: 0.830 - 0.028 x 0.4 = 0.82.
    Row { id: "food_scraps", name: "Food scraps", structure: Matting,
        moisture_fraction: s(0.7, Tchobanoglous1993Memory), nitrogen_fraction: s(0.0215, Gotaas1956Read),
        c_to_n: s(20.0, Gotaas1956Read), ash_fraction: s(0.05, Tchobanoglous1993Memory),
        bulk_density_kg_m3: s(450.0, Estimate), fast_fraction: s(0.55, Estimate), slow_fraction: s(0.27, Chandler1980),
        note: "Bury in the heap; meat and dairy draw vermin and may fall under by-product rules." },
    // Apple pomace.
    Row { id: "fruit_pomace", name: "Fruit pomace", structure: Matting,
        moisture_fraction: s(0.78, Estimate), nitrogen_fraction: s(0.011, Nraes54Read),
        c_to_n: s(48.0, Nraes54Memory), ash_fraction: s(0.03, Estimate),
        bulk_density_kg_m3: s(925.0, Nraes54Memory), fast_fraction: s(0.48, Estimate), slow_fraction: s(0.22, Estimate),
        note: "Acid and wet: mix with plenty of open brown." },
    // Nitrogen from 28.4 % crude protein / 6.25.
    Row { id: "brewers_grains", name: "Brewers grains", structure: Matting,
        moisture_fraction: s(0.78, Nrc2001Memory), nitrogen_fraction: s(0.045, Nrc2001Memory),
        c_to_n: s(11.7, GotaasCarbon), ash_fraction: s(0.049, Nrc2001Memory),
        bulk_density_kg_m3: s(800.0, Estimate), fast_fraction: s(0.4, Estimate), slow_fraction: s(0.32, Estimate),
        note: "Sours within days: mix in fresh." },
    // Manures and litter.
    Row { id: "cattle_manure", name: "Cattle manure", structure: Matting,
        moisture_fraction: s(0.81, Nraes54Memory), nitrogen_fraction: s(0.024, Nraes54Read),
        c_to_n: s(19.0, Nraes54Read), ash_fraction: s(0.17, AsaeD384Memory),
        bulk_density_kg_m3: s(865.0, Nraes54Memory), fast_fraction: s(0.2, Estimate), slow_fraction: s(0.32, Estimate),
        note: "Herbicide may carry over from forage. Pathogens: keep to the rules on raw manure." },
    Row { id: "farmyard_manure", name: "Farmyard manure on straw", structure: Mixed,
        moisture_fraction: s(0.75, Estimate), nitrogen_fraction: s(0.0225, Gotaas1956Read),
        c_to_n: s(14.0, Gotaas1956Read), ash_fraction: s(0.25, Estimate),
        bulk_density_kg_m3: s(700.0, Estimate), fast_fraction: s(0.14, Estimate), slow_fraction: s(0.32, Estimate),
        note: "Herbicide may carry over from straw and forage. Pathogens: keep to the rules on raw manure." },
    // Printed density 725-960 kg/m3 is as stacked; forked in it lies looser.
    Row { id: "horse_manure_bedded", name: "Horse manure with straw", structure: Mixed,
        moisture_fraction: s(0.67, MaterialsTableRead), nitrogen_fraction: s(0.015, MaterialsTableRead),
        c_to_n: s(27.0, MaterialsTableRead), ash_fraction: s(0.18, Estimate),
        bulk_density_kg_m3: s(500.0, Estimate), fast_fraction: s(0.15, Estimate), slow_fraction: s(0.33, Estimate),
        note: "Herbicide may carry over from hay and straw; wormers too. Weed seed." },
    // Moisture inside the printed 60-75 %.
    Row { id: "sheep_manure", name: "Sheep manure", structure: Mixed,
        moisture_fraction: s(0.68, MaterialsTableRead), nitrogen_fraction: s(0.027, Nraes54Read),
        c_to_n: s(16.0, Nraes54Read), ash_fraction: s(0.16, AsaeD384Memory),
        bulk_density_kg_m3: s(600.0, Estimate), fast_fraction: s(0.18, Estimate), slow_fraction: s(0.32, Estimate),
        note: "Pathogens: keep to the rules on raw manure. Weed seed." },
    Row { id: "pig_manure", name: "Pig manure", structure: Matting,
        moisture_fraction: s(0.8, Nraes54Memory), nitrogen_fraction: s(0.031, Nraes54Read),
        c_to_n: s(14.0, Nraes54Read), ash_fraction: s(0.23, AsaeD384Memory),
        bulk_density_kg_m3: s(900.0, Estimate), fast_fraction: s(0.3, Estimate), slow_fraction: s(0.3, Estimate),
        note: "Pathogens and parasites: heat through before use on food crops." },
    // Golueke's nitrogen with the low end of the printed C:N 6-15; 8 % nitrogen would ask for more carbon than there is.
    Row { id: "layer_manure", name: "Layer hen manure", structure: Matting,
        moisture_fraction: s(0.69, Nraes54Memory), nitrogen_fraction: s(0.063, Golueke1972Read),
        c_to_n: s(6.0, Nraes54Read), ash_fraction: s(0.25, AsaeD384Memory),
        bulk_density_kg_m3: s(877.0, Nraes54Memory), fast_fraction: s(0.36, Estimate), slow_fraction: s(0.24, Estimate),
        note: "Strong ammonia: mix with plenty of brown. Pathogens: keep to the rules on raw manure." },
    // Broiler litter.
    Row { id: "poultry_litter", name: "Poultry litter", structure: Mixed,
        moisture_fraction: s(0.37, Nraes54Memory), nitrogen_fraction: s(0.027, Nraes54Memory),
        c_to_n: s(14.0, Nraes54Memory), ash_fraction: s(0.23, AsaeD384Memory),
        bulk_density_kg_m3: s(513.0, Nraes54Memory), fast_fraction: s(0.22, Estimate), slow_fraction: s(0.3, Estimate),
        note: "Pathogens: keep to the rules on raw manure. Wet it as it goes in." },
    // Between sheep (2.7 %, 16) and cattle (2.4 %, 19).
    Row { id: "rabbit_manure", name: "Rabbit manure", structure: Mixed,
        moisture_fraction: s(0.65, Estimate), nitrogen_fraction: s(0.024, Estimate),
        c_to_n: s(18.0, Estimate), ash_fraction: s(0.15, Estimate),
        bulk_density_kg_m3: s(450.0, Estimate), fast_fraction: s(0.18, Estimate), slow_fraction: s(0.32, Estimate),
        note: "Herbicide may carry over from hay." },
    // Composts and soil.
    // Farmyard manure (2.25 %, 14) part composted.
    Row { id: "spent_mushroom_compost", name: "Spent mushroom compost", structure: Mixed,
        moisture_fraction: s(0.62, Estimate), nitrogen_fraction: s(0.02, Estimate),
        c_to_n: s(15.0, Estimate), ash_fraction: s(0.38, Estimate),
        bulk_density_kg_m3: s(400.0, Estimate), fast_fraction: s(0.08, Estimate), slow_fraction: s(0.24, Estimate),
        note: "Chalky and salty." },
    // Well rotted matter tends to a C:N of 10-15.
    Row { id: "finished_compost", name: "Finished or old compost", structure: Mixed,
        moisture_fraction: s(0.45, Estimate), nitrogen_fraction: s(0.013, Estimate),
        c_to_n: s(14.0, Estimate), ash_fraction: s(0.6, Estimate),
        bulk_density_kg_m3: s(600.0, Estimate), fast_fraction: s(0.01, Estimate), slow_fraction: s(0.12, Estimate),
        note: "Added as a starter; does not heat." },
    // Organic matter 5 % of dry mass.
    Row { id: "garden_soil", name: "Garden soil", structure: Mixed,
        moisture_fraction: s(0.2, Estimate), nitrogen_fraction: s(0.002, Estimate),
        c_to_n: s(12.0, Estimate), ash_fraction: s(0.95, Estimate),
        bulk_density_kg_m3: s(1100.0, Estimate), fast_fraction: s(0.01, Estimate), slow_fraction: s(0.07, Estimate),
        note: "Heavy: a dusting, not a layer." },
];
