//! Where the values in the feedstock table come from, and how each was checked.

/// Where a value in the feedstock table came from.
///
/// A value is either the printed one or a choice inside the printed range; a comment above the
/// row says which. `Read` and `Memory` variants of one publication differ in how they were
/// checked, not in what they cite.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Source {
    /// NRAES-54 appendix A, seen reprinted.
    Nraes54Read,
    /// NRAES-54 appendix A, remembered.
    Nraes54Memory,
    /// Gotaas's table of nitrogen and C:N, seen reprinted.
    Gotaas1956Read,
    /// Carbon from ash by Gotaas's rule, divided by the row's nitrogen.
    GotaasCarbon,
    /// Golueke's table of nitrogen and C:N, seen reprinted.
    Golueke1972Read,
    /// A metric table of composting materials, seen without its title page.
    MaterialsTableRead,
    /// Analysis of used coffee grounds, seen in an encyclopedia.
    CoffeeArticleRead,
    /// Municipal waste components: moisture, ultimate analysis, biodegradable share.
    Tchobanoglous1993Memory,
    /// Biodegradable share of volatile solids from lignin, less the row's fast share.
    Chandler1980,
    /// Manure solids: ash is what the volatile solids leave of the total.
    AsaeD384Memory,
    /// Composition of feeds.
    Nrc2001Memory,
    /// Reasoned from the nearest listed material.
    Estimate,
}

impl Source {
    /// Author, year, title, table.
    pub const fn citation(self) -> &'static str {
        match self {
            Self::Nraes54Read | Self::Nraes54Memory => {
                "Rynk, R. (ed.) 1992, On-Farm Composting Handbook, NRAES-54, appendix A, table A.1"
            }
            Self::Gotaas1956Read => {
                "Gotaas, H. B. 1956, Composting: Sanitary Disposal and Reclamation of Organic \
                 Wastes, WHO Monograph 31, p. 44"
            }
            Self::GotaasCarbon => {
                "Gotaas, H. B. 1956, Composting, WHO Monograph 31: C % = (100 - ash %) / 1.8"
            }
            Self::Golueke1972Read => {
                "Golueke, C. G. 1972, Composting, nitrogen and C/N of wastes, reprinted as \
                 Polprasert, C., Organic Waste Recycling, table 3.1, p. 98"
            }
            Self::MaterialsTableRead => {
                "Characteristics of common composting materials, table 3; author, year and title \
                 not given where it was read"
            }
            Self::CoffeeArticleRead => "Used coffee grounds, Wikipedia, section Chemical composition",
            Self::Tchobanoglous1993Memory => {
                "Tchobanoglous, G., Theisen, H. and Vigil, S. 1993, Integrated Solid Waste \
                 Management, chapter 4, tables of moisture, ultimate analysis and biodegradable \
                 fraction"
            }
            Self::Chandler1980 => {
                "Chandler, J. A., Jewell, W. J., Gossett, J. M., Van Soest, P. J. and Robertson, \
                 J. B. 1980, Predicting methane fermentation biodegradability, Biotechnology and \
                 Bioengineering Symposium 10, 93-107: B = 0.830 - 0.028 x lignin % of volatile \
                 solids"
            }
            Self::AsaeD384Memory => {
                "American Society of Agricultural Engineers, data D384.1 (edition of the 1990s), Manure \
                 Production and Characteristics, table 1, total and volatile solids"
            }
            Self::Nrc2001Memory => {
                "National Research Council 2001, Nutrient Requirements of Dairy Cattle, 7th \
                 edition, table 15-1"
            }
            Self::Estimate => "Estimate: reasoned from the nearest listed material",
        }
    }

    /// How the value was checked.
    pub const fn checked(self) -> &'static str {
        match self {
            Self::Nraes54Read => {
                "read in a secondary page: The Humanure Handbook, table 3.2, which credits NRAES-54 \
                 pp. 106-113 and Gotaas 1956 together; that this value is the NRAES-54 one is from \
                 memory"
            }
            Self::Gotaas1956Read => {
                "read in a secondary page: The Humanure Handbook, table 3.2, which credits Gotaas \
                 1956 p. 44 and NRAES-54 together; that this value is Gotaas's is from memory"
            }
            Self::Golueke1972Read => "read in a secondary page: Polprasert, Organic Waste Recycling, p. 98",
            Self::GotaasCarbon => {
                "computed from the row's ash and nitrogen; the rule was read in a secondary page: \
                 Polprasert, Organic Waste Recycling, p. 98, eq. 3.6, accuracy 2-10 %"
            }
            Self::MaterialsTableRead => {
                "read in a secondary page: worm1blog.blogspot.com, April 2008, which reprints the \
                 table without its source"
            }
            Self::CoffeeArticleRead => "read in a secondary page: the copy at findatwiki.com",
            Self::Chandler1980 => {
                "computed from a lignin share given in the comment above the row; the constants \
                 and the lignin share are from memory"
            }
            Self::AsaeD384Memory => "computed from solids remembered, not checked",
            Self::Nraes54Memory | Self::Tchobanoglous1993Memory | Self::Nrc2001Memory => "from memory",
            Self::Estimate => "common practice, no source",
        }
    }
}
