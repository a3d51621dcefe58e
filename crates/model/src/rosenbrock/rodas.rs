//! Coefficients of RODAS: Hairer & Wanner 1996, Solving Ordinary Differential Equations II, section IV.7 and the code
//! RODAS (from memory; the order tests beside the integrator would fail on a wrong digit).

/// Diagonal of the method.
pub(super) const GAMMA: f64 = 0.25;

/// Time of each stage, as a share of the step.
pub(super) const NODE: [f64; 6] = [0.0, 0.386, 0.21, 0.63, 1.0, 1.0];

/// Factor of each stage on the slope over time.
pub(super) const TIME: [f64; 6] = [0.25, -0.1043, 0.1035, -0.036_200_000_000_000_23, 0.0, 0.0];

/// Weights of earlier stages in the state that a stage looks at.
pub(super) const A: [[f64; 5]; 6] = [
    [0.0; 5],
    [1.544, 0.0, 0.0, 0.0, 0.0],
    [0.946_678_528_081_582_6, 0.255_701_169_898_328_4, 0.0, 0.0, 0.0],
    [3.314_825_187_068_521, 2.896_124_015_972_201, 0.998_641_913_997_781_7, 0.0, 0.0],
    [1.221_224_509_226_641, 6.019_134_481_288_629, 12.537_083_329_320_87, -0.687_886_036_105_895, 0.0],
    [1.221_224_509_226_641, 6.019_134_481_288_629, 12.537_083_329_320_87, -0.687_886_036_105_895, 1.0],
];

/// Weights of earlier stages, over the step's length, in a stage's right-hand side.
pub(super) const C: [[f64; 5]; 6] = [
    [0.0; 5],
    [-5.6688, 0.0, 0.0, 0.0, 0.0],
    [-2.430_093_356_833_875, -0.206_359_915_709_191_5, 0.0, 0.0, 0.0],
    [-0.107_352_905_815_137_5, -9.594_562_251_023_355, -20.470_286_148_096_16, 0.0, 0.0],
    [7.496_443_313_967_647, -10.246_804_314_643_52, -33.999_903_528_199_05, 11.708_908_932_061_6, 0.0],
    [
        8.083_246_795_921_522,
        -7.981_132_988_064_893,
        -31.521_594_328_743_71,
        16.319_305_431_231_36,
        -6.058_818_238_834_054,
    ],
];

/// Weights of the stages in the interpolant's first factor.
pub(super) const DENSE_1: [f64; 5] = [
    10.126_235_083_445_86,
    -7.487_995_877_610_167,
    -34.800_918_615_557_47,
    -7.992_771_707_568_823,
    1.025_137_723_295_662,
];

/// Weights of the stages in the interpolant's second factor.
pub(super) const DENSE_2: [f64; 5] = [
    -0.676_280_339_280_125_3,
    6.087_714_651_680_015,
    16.430_843_208_924_78,
    24.767_225_114_183_86,
    -6.594_389_125_716_872,
];
