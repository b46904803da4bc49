//! The pack as code. Written by `cargo bench --bench rules -- --write`; do not change by hand.

/// What the tables read and make; numbers, and choices by index.
#[derive(Debug, Clone, Default)]
pub struct Record {
    pub f0: f64,
    pub f1: f64,
    pub f2: f64,
    pub f3: f64,
    pub f4: f64,
    pub f5: f64,
    pub f6: f64,
    pub f7: f64,
    pub f8: f64,
    pub f9: f64,
    pub f10: u8,
    pub f11: u8,
    pub f12: u8,
    pub f13: u8,
    pub f14: u8,
    pub f15: u8,
    pub f16: u8,
    pub f17: u8,
    pub f18: u8,
    pub f19: u8,
    pub f20: u8,
    pub f21: u8,
    pub f22: u8,
    pub f23: u8,
    pub f24: u8,
    pub f25: u8,
    pub f26: u8,
    pub f27: u8,
    pub f28: u8,
    pub f29: u8,
}

/// Runs every table.
pub fn run(r: &mut Record) {
    r.f22 = t0(r);
    r.f23 = t1(r);
    r.f24 = t2(r);
    r.f25 = t3(r);
    r.f26 = t4(r);
    r.f27 = t5(r);
    r.f28 = t6(r);
    r.f29 = t7(r);
}

fn t0(r: &Record) -> u8 {
    if (35.0..75.0).contains(&r.f3) && matches!(r.f11, 0 | 1 | 3) && matches!(r.f13, 0 | 1 | 3 | 4 | 5) && matches!(r.f15, 0 | 2 | 3) && matches!(r.f16, 0 | 2 | 3) {
        return 0;
    }
    if (35.0..85.0).contains(&r.f8) && matches!(r.f11, 0 | 1 | 2) && matches!(r.f13, 0 | 1 | 2 | 3 | 4) && matches!(r.f15, 0 | 1 | 2) && matches!(r.f16, 0 | 1 | 2 | 3) {
        return 2;
    }
    if r.f3 < 85.0 && (15.0..60.0).contains(&r.f8) && matches!(r.f11, 0 | 1) && matches!(r.f15, 1 | 2) {
        return 2;
    }
    if (5.0..95.0).contains(&r.f3) && r.f8 < 90.0 && matches!(r.f13, 1 | 2 | 3 | 4 | 5) && matches!(r.f15, 2 | 3) && matches!(r.f16, 1 | 2 | 4) {
        return 2;
    }
    if r.f8 >= 35.0 && matches!(r.f11, 1 | 2) && matches!(r.f15, 0 | 1) && matches!(r.f16, 1 | 2 | 3 | 4) {
        return 2;
    }
    if r.f3 < 95.0 && (20.0..80.0).contains(&r.f8) && matches!(r.f11, 0 | 1 | 3) && matches!(r.f15, 0 | 1 | 3) && matches!(r.f16, 0 | 1 | 2 | 4) {
        return 0;
    }
    if r.f3 >= 25.0 && (35.0..65.0).contains(&r.f8) && matches!(r.f11, 0 | 1) && matches!(r.f13, 0 | 1 | 3 | 4 | 5) && matches!(r.f15, 1 | 3) {
        return 1;
    }
    if r.f3 < 80.0 && r.f8 < 70.0 && matches!(r.f11, 0 | 2 | 3) && matches!(r.f15, 0 | 1 | 2) && matches!(r.f16, 0 | 1 | 2 | 4) {
        return 3;
    }
    if r.f3 >= 35.0 && matches!(r.f11, 0 | 2) && matches!(r.f13, 0 | 2 | 3 | 4 | 5) && matches!(r.f15, 0 | 1 | 2) && matches!(r.f16, 1 | 3 | 4) {
        return 3;
    }
    if matches!(r.f11, 0 | 1 | 2) && matches!(r.f13, 0 | 1 | 2 | 3 | 5) && matches!(r.f15, 1 | 2) && matches!(r.f16, 1 | 2 | 3 | 4) {
        return 4;
    }
    if r.f8 < 95.0 && matches!(r.f11, 0 | 1 | 3) && matches!(r.f13, 0 | 1 | 2 | 3) && matches!(r.f15, 0 | 2 | 3) && matches!(r.f16, 1 | 2 | 3 | 4) {
        return 2;
    }
    if r.f3 < 80.0 && (35.0..90.0).contains(&r.f8) && matches!(r.f11, 1 | 3) && matches!(r.f15, 1 | 2 | 3) && matches!(r.f16, 0 | 3 | 4) {
        return 0;
    }
    if r.f3 < 80.0 && (20.0..75.0).contains(&r.f8) && matches!(r.f13, 2 | 3 | 4 | 5) && matches!(r.f15, 0 | 2 | 3) && matches!(r.f16, 0 | 1 | 2 | 4) {
        return 2;
    }
    if r.f3 >= 35.0 && (10.0..60.0).contains(&r.f8) && matches!(r.f11, 0 | 2) && matches!(r.f13, 1 | 2 | 3 | 5) && matches!(r.f15, 0 | 1 | 2) {
        return 2;
    }
    2
}

fn t1(r: &Record) -> u8 {
    if r.f0 >= 30.0 && (30.0..65.0).contains(&r.f1) && matches!(r.f19, 0) && matches!(r.f20, 0) && matches!(r.f22, 0 | 1 | 3 | 4) {
        return 1;
    }
    if r.f0 >= 30.0 && matches!(r.f11, 0 | 2) && matches!(r.f19, 1) && matches!(r.f20, 0) && matches!(r.f22, 0 | 1 | 3) {
        return 2;
    }
    if (30.0..70.0).contains(&r.f1) && matches!(r.f11, 1 | 2) && matches!(r.f13, 1 | 2 | 4 | 5) && matches!(r.f20, 0) && matches!(r.f22, 0 | 2 | 3) {
        return 4;
    }
    if (20.0..80.0).contains(&r.f0) && r.f1 < 85.0 && matches!(r.f13, 0 | 1 | 2 | 3) && matches!(r.f19, 1) && matches!(r.f22, 0 | 1 | 2) {
        return 0;
    }
    if (35.0..85.0).contains(&r.f0) && matches!(r.f11, 2 | 3) && matches!(r.f13, 0 | 2 | 3 | 5) && matches!(r.f19, 1) && matches!(r.f20, 1) {
        return 2;
    }
    if r.f0 < 60.0 && r.f1 < 95.0 && matches!(r.f11, 1 | 3) && matches!(r.f19, 1) && matches!(r.f22, 0 | 1 | 3 | 4) {
        return 1;
    }
    if r.f0 < 70.0 && r.f1 < 70.0 && matches!(r.f11, 0 | 1 | 2) && matches!(r.f20, 0) && matches!(r.f22, 0 | 1 | 2 | 4) {
        return 2;
    }
    if r.f0 >= 30.0 && matches!(r.f11, 2 | 3) && matches!(r.f13, 0 | 1 | 4 | 5) && matches!(r.f19, 1) && matches!(r.f22, 1 | 2 | 3 | 4) {
        return 3;
    }
    if (30.0..95.0).contains(&r.f0) && matches!(r.f11, 2 | 3) && matches!(r.f13, 0 | 1 | 3 | 4) && matches!(r.f19, 0) && matches!(r.f20, 0) {
        return 1;
    }
    if r.f0 < 70.0 && matches!(r.f11, 1 | 2 | 3) && matches!(r.f13, 0 | 1 | 4 | 5) && matches!(r.f19, 1) && matches!(r.f22, 0 | 1 | 3) {
        return 2;
    }
    if (15.0..65.0).contains(&r.f0) && r.f1 < 85.0 && matches!(r.f11, 0 | 1 | 2) && matches!(r.f19, 0) && matches!(r.f20, 0) {
        return 0;
    }
    if (30.0..70.0).contains(&r.f0) && r.f1 >= 30.0 && matches!(r.f13, 0 | 1 | 3 | 4) && matches!(r.f20, 1) && matches!(r.f22, 0 | 1 | 3) {
        return 4;
    }
    if r.f1 < 60.0 && matches!(r.f11, 1 | 2) && matches!(r.f13, 0 | 2 | 4 | 5) && matches!(r.f19, 1) && matches!(r.f22, 0 | 1 | 2 | 4) {
        return 4;
    }
    if r.f0 < 75.0 && matches!(r.f11, 1 | 2 | 3) && matches!(r.f13, 0 | 1 | 3 | 4 | 5) && matches!(r.f19, 0) && matches!(r.f20, 0) {
        return 3;
    }
    2
}

fn t2(r: &Record) -> u8 {
    if r.f4 >= 25.0 && matches!(r.f15, 0 | 1 | 3) && matches!(r.f19, 0) && matches!(r.f22, 0 | 1 | 2 | 3) && matches!(r.f23, 0 | 1 | 3 | 4) {
        return 1;
    }
    if matches!(r.f15, 1 | 2) && matches!(r.f17, 0 | 1 | 2 | 3) && matches!(r.f19, 1) && matches!(r.f21, 0) && matches!(r.f22, 0 | 3 | 4) {
        return 2;
    }
    if matches!(r.f15, 0 | 3) && matches!(r.f17, 0 | 1 | 3 | 4) && matches!(r.f19, 1) && matches!(r.f22, 0 | 2 | 3 | 4) {
        return 3;
    }
    if (20.0..60.0).contains(&r.f4) && matches!(r.f15, 0 | 1 | 2) && matches!(r.f19, 0) && matches!(r.f22, 0 | 1 | 3 | 4) && matches!(r.f23, 1 | 2 | 3) {
        return 2;
    }
    if r.f4 >= 30.0 && matches!(r.f21, 1) && matches!(r.f22, 1 | 2 | 3) && matches!(r.f23, 0 | 2 | 4) {
        return 3;
    }
    if matches!(r.f15, 1 | 2) && matches!(r.f17, 1 | 2 | 4 | 5) && matches!(r.f20, 0) && matches!(r.f21, 0) && matches!(r.f22, 0 | 2 | 4) {
        return 1;
    }
    if (20.0..95.0).contains(&r.f4) && matches!(r.f15, 0 | 2 | 3) && matches!(r.f17, 1 | 2 | 3 | 4 | 5) && matches!(r.f19, 1) && matches!(r.f22, 0 | 1 | 2 | 4) {
        return 2;
    }
    if r.f4 >= 20.0 && matches!(r.f15, 1 | 2 | 3) && matches!(r.f19, 1) && matches!(r.f22, 0 | 2 | 3 | 4) && matches!(r.f23, 0 | 3 | 4) {
        return 0;
    }
    if matches!(r.f17, 1 | 2 | 3 | 5) && matches!(r.f20, 1) && matches!(r.f21, 0) && matches!(r.f22, 2 | 3 | 4) && matches!(r.f23, 1 | 2 | 3 | 4) {
        return 4;
    }
    if r.f4 < 75.0 && matches!(r.f15, 0 | 2 | 3) && matches!(r.f17, 2 | 3 | 4 | 5) && matches!(r.f20, 1) && matches!(r.f22, 1 | 2 | 3) {
        return 0;
    }
    if (35.0..85.0).contains(&r.f4) && matches!(r.f17, 0 | 2 | 3 | 4 | 5) && matches!(r.f22, 2 | 3 | 4) && matches!(r.f23, 0 | 2 | 4) {
        return 3;
    }
    if matches!(r.f17, 0 | 1 | 2 | 4 | 5) && matches!(r.f19, 1) && matches!(r.f20, 0) && matches!(r.f21, 1) && matches!(r.f22, 0 | 1 | 2 | 4) {
        return 0;
    }
    if matches!(r.f15, 1 | 2) && matches!(r.f17, 2 | 3 | 4 | 5) && matches!(r.f19, 0) && matches!(r.f22, 0 | 1 | 3 | 4) {
        return 4;
    }
    if matches!(r.f17, 0 | 2 | 3 | 4 | 5) && matches!(r.f19, 1) && matches!(r.f21, 1) && matches!(r.f22, 1 | 2 | 3) && matches!(r.f23, 0 | 1 | 3 | 4) {
        return 3;
    }
    1
}

fn t3(r: &Record) -> u8 {
    if (20.0..75.0).contains(&r.f2) && r.f6 >= 30.0 && matches!(r.f12, 1 | 2 | 3 | 4) && matches!(r.f24, 0 | 2 | 3) {
        return 3;
    }
    if (10.0..90.0).contains(&r.f2) && (35.0..70.0).contains(&r.f6) && matches!(r.f10, 0 | 1) && matches!(r.f12, 0 | 2 | 3) && matches!(r.f14, 0 | 2) {
        return 4;
    }
    if r.f8 >= 20.0 && matches!(r.f14, 0 | 2) && matches!(r.f23, 1 | 2 | 4) && matches!(r.f24, 0 | 1 | 3 | 4) {
        return 4;
    }
    if r.f2 < 75.0 && (5.0..60.0).contains(&r.f6) && matches!(r.f12, 1 | 2 | 3 | 4) && matches!(r.f14, 1 | 2) && matches!(r.f23, 0 | 1 | 3) {
        return 4;
    }
    if r.f2 >= 25.0 && r.f8 >= 15.0 && matches!(r.f10, 0 | 2) && matches!(r.f12, 1 | 2 | 4) && matches!(r.f23, 0 | 3 | 4) {
        return 2;
    }
    if r.f2 < 65.0 && r.f6 < 80.0 && r.f8 < 60.0 && matches!(r.f10, 0 | 2) && matches!(r.f23, 1 | 2 | 3 | 4) {
        return 3;
    }
    if r.f6 < 75.0 && (10.0..75.0).contains(&r.f8) && matches!(r.f10, 0 | 1) && matches!(r.f12, 0 | 1 | 2 | 4) && matches!(r.f24, 1 | 2 | 4) {
        return 1;
    }
    if r.f8 < 65.0 && matches!(r.f10, 0 | 2) && matches!(r.f14, 0 | 1) && matches!(r.f23, 0 | 1 | 2 | 4) && matches!(r.f24, 1 | 2 | 3) {
        return 3;
    }
    if (5.0..90.0).contains(&r.f8) && matches!(r.f10, 0 | 1) && matches!(r.f12, 0 | 1 | 3 | 4) && matches!(r.f14, 0 | 2) && matches!(r.f23, 1 | 2 | 3 | 4) {
        return 3;
    }
    if r.f2 < 70.0 && (30.0..80.0).contains(&r.f6) && matches!(r.f10, 0 | 2) && matches!(r.f14, 1 | 2) && matches!(r.f23, 1 | 2 | 4) {
        return 0;
    }
    if r.f2 < 85.0 && r.f6 < 80.0 && matches!(r.f14, 1 | 2) && matches!(r.f24, 0 | 1 | 3 | 4) {
        return 3;
    }
    if r.f6 < 95.0 && r.f8 >= 10.0 && matches!(r.f10, 1 | 2) && matches!(r.f12, 0 | 1 | 2 | 4) && matches!(r.f14, 0 | 1) {
        return 4;
    }
    if (35.0..80.0).contains(&r.f6) && matches!(r.f10, 0 | 1) && matches!(r.f14, 0 | 2) && matches!(r.f23, 0 | 3 | 4) {
        return 2;
    }
    if r.f2 < 90.0 && r.f8 >= 10.0 && matches!(r.f12, 0 | 1 | 2 | 4) && matches!(r.f23, 0 | 1 | 4) && matches!(r.f24, 0 | 2 | 4) {
        return 1;
    }
    2
}

fn t4(r: &Record) -> u8 {
    if (20.0..75.0).contains(&r.f3) && matches!(r.f10, 1 | 2) && matches!(r.f18, 0) && matches!(r.f20, 1) && matches!(r.f24, 1 | 2 | 3) {
        return 4;
    }
    if (10.0..80.0).contains(&r.f2) && (5.0..85.0).contains(&r.f3) && matches!(r.f10, 1 | 2) && matches!(r.f18, 0) && matches!(r.f24, 0 | 3 | 4) {
        return 3;
    }
    if matches!(r.f10, 0 | 2) && matches!(r.f16, 0 | 1 | 2 | 4) && matches!(r.f18, 1) && matches!(r.f20, 1) && matches!(r.f24, 2 | 3 | 4) {
        return 1;
    }
    if (25.0..90.0).contains(&r.f3) && matches!(r.f16, 0 | 1 | 2) && matches!(r.f18, 0) && matches!(r.f24, 2 | 3 | 4) && matches!(r.f25, 1 | 2 | 4) {
        return 1;
    }
    if (15.0..70.0).contains(&r.f2) && matches!(r.f18, 0) && matches!(r.f24, 1 | 3 | 4) && matches!(r.f25, 2 | 3 | 4) {
        return 4;
    }
    if (35.0..80.0).contains(&r.f2) && matches!(r.f18, 1) && matches!(r.f20, 1) && matches!(r.f24, 0 | 1 | 2 | 3) {
        return 2;
    }
    if matches!(r.f10, 1 | 2) && matches!(r.f16, 0 | 1 | 3) && matches!(r.f18, 0) && matches!(r.f20, 0) {
        return 4;
    }
    if (10.0..85.0).contains(&r.f3) && matches!(r.f10, 0 | 2) && matches!(r.f20, 0) && matches!(r.f24, 1 | 2 | 3 | 4) && matches!(r.f25, 0 | 1 | 2 | 4) {
        return 4;
    }
    if (10.0..90.0).contains(&r.f3) && matches!(r.f10, 0 | 1) && matches!(r.f18, 0) && matches!(r.f20, 0) && matches!(r.f25, 1 | 2 | 3) {
        return 2;
    }
    if (20.0..95.0).contains(&r.f2) && r.f3 < 95.0 && matches!(r.f10, 1 | 2) && matches!(r.f18, 1) && matches!(r.f25, 2 | 3 | 4) {
        return 1;
    }
    if r.f2 >= 25.0 && (25.0..90.0).contains(&r.f3) && matches!(r.f18, 1) && matches!(r.f20, 0) && matches!(r.f24, 0 | 2 | 3 | 4) {
        return 0;
    }
    if r.f2 < 70.0 && r.f3 >= 20.0 && matches!(r.f16, 0 | 1 | 4) && matches!(r.f24, 1 | 2 | 3 | 4) && matches!(r.f25, 0 | 1 | 3) {
        return 4;
    }
    if r.f2 >= 20.0 && matches!(r.f10, 0 | 1) && matches!(r.f16, 0 | 1 | 2) && matches!(r.f18, 0) && matches!(r.f20, 0) {
        return 2;
    }
    if r.f2 < 85.0 && r.f3 >= 5.0 && matches!(r.f24, 0 | 1 | 3) && matches!(r.f25, 1 | 2 | 3 | 4) {
        return 0;
    }
    0
}

fn t5(r: &Record) -> u8 {
    if r.f0 < 90.0 && r.f2 < 85.0 && matches!(r.f18, 0) && matches!(r.f25, 0 | 1 | 2 | 3) && matches!(r.f26, 0 | 2 | 3) {
        return 2;
    }
    if r.f2 >= 15.0 && r.f7 < 80.0 && r.f8 >= 5.0 && matches!(r.f18, 0) {
        return 4;
    }
    if (30.0..80.0).contains(&r.f0) && r.f2 >= 20.0 && (35.0..65.0).contains(&r.f8) && matches!(r.f20, 1) && matches!(r.f26, 0 | 1 | 2 | 3) {
        return 0;
    }
    if r.f2 < 90.0 && r.f8 < 80.0 && matches!(r.f18, 0) && matches!(r.f25, 1 | 3 | 4) && matches!(r.f26, 0 | 1 | 3) {
        return 3;
    }
    if r.f2 < 85.0 && r.f7 < 85.0 && (35.0..80.0).contains(&r.f8) && matches!(r.f25, 0 | 1 | 2 | 3) && matches!(r.f26, 0 | 1 | 3 | 4) {
        return 0;
    }
    if r.f0 >= 5.0 && r.f2 >= 10.0 && matches!(r.f18, 1) && matches!(r.f20, 0) && matches!(r.f26, 0 | 2 | 3 | 4) {
        return 2;
    }
    if r.f0 >= 20.0 && r.f2 < 80.0 && matches!(r.f18, 0) && matches!(r.f26, 0 | 1 | 2) {
        return 3;
    }
    if r.f8 >= 25.0 && matches!(r.f18, 0) && matches!(r.f20, 0) && matches!(r.f26, 1 | 2 | 3 | 4) {
        return 1;
    }
    if (15.0..95.0).contains(&r.f0) && (15.0..60.0).contains(&r.f2) && matches!(r.f18, 0) && matches!(r.f25, 0 | 1 | 2 | 4) && matches!(r.f26, 0 | 1 | 2) {
        return 2;
    }
    if r.f2 >= 10.0 && r.f8 >= 15.0 && matches!(r.f18, 1) && matches!(r.f20, 1) && matches!(r.f26, 0 | 1 | 3) {
        return 1;
    }
    if r.f7 < 75.0 && (5.0..65.0).contains(&r.f8) && matches!(r.f18, 1) && matches!(r.f20, 1) && matches!(r.f26, 0 | 1 | 2 | 3) {
        return 1;
    }
    if r.f0 >= 30.0 && r.f2 >= 15.0 && matches!(r.f18, 1) && matches!(r.f25, 1 | 3 | 4) {
        return 4;
    }
    if r.f0 < 80.0 && r.f2 < 80.0 && (25.0..95.0).contains(&r.f7) && matches!(r.f18, 0) && matches!(r.f25, 2 | 3 | 4) {
        return 4;
    }
    if (5.0..75.0).contains(&r.f0) && r.f7 < 70.0 && matches!(r.f25, 1 | 3 | 4) && matches!(r.f26, 0 | 2 | 3 | 4) {
        return 1;
    }
    0
}

fn t6(r: &Record) -> u8 {
    if matches!(r.f11, 0 | 1) && matches!(r.f13, 0 | 1 | 2 | 3) && matches!(r.f17, 0 | 2 | 3 | 4 | 5) && matches!(r.f26, 0 | 1 | 3 | 4) && matches!(r.f27, 0 | 2 | 4) {
        return 3;
    }
    if matches!(r.f10, 0 | 1) && matches!(r.f11, 0 | 1 | 2) && matches!(r.f13, 0 | 2 | 3 | 4 | 5) && matches!(r.f26, 1 | 3 | 4) && matches!(r.f27, 0 | 1 | 3 | 4) {
        return 3;
    }
    if matches!(r.f10, 0 | 2) && matches!(r.f11, 0 | 1) && matches!(r.f13, 0 | 1 | 2 | 3 | 4) && matches!(r.f14, 0 | 1) && matches!(r.f17, 0 | 1 | 4 | 5) {
        return 2;
    }
    if r.f4 < 75.0 && matches!(r.f13, 0 | 1 | 4 | 5) && matches!(r.f14, 0 | 1) && matches!(r.f17, 0 | 2 | 3 | 4) {
        return 1;
    }
    if matches!(r.f10, 1 | 2) && matches!(r.f11, 1 | 3) && matches!(r.f13, 0 | 1 | 3 | 4 | 5) && matches!(r.f17, 0 | 2 | 3 | 4) && matches!(r.f27, 1 | 2 | 4) {
        return 4;
    }
    if (5.0..60.0).contains(&r.f4) && matches!(r.f10, 0 | 2) && matches!(r.f17, 1 | 2 | 3 | 4 | 5) && matches!(r.f26, 0 | 1 | 2 | 4) && matches!(r.f27, 0 | 3 | 4) {
        return 2;
    }
    if matches!(r.f11, 1 | 3) && matches!(r.f13, 0 | 1 | 3 | 4 | 5) && matches!(r.f14, 0 | 2) && matches!(r.f17, 0 | 1 | 2 | 4 | 5) && matches!(r.f26, 0 | 3 | 4) {
        return 2;
    }
    if matches!(r.f10, 1 | 2) && matches!(r.f11, 0 | 1 | 2) && matches!(r.f13, 1 | 2 | 3 | 4) && matches!(r.f17, 1 | 2 | 4 | 5) && matches!(r.f26, 0 | 1 | 2 | 3) {
        return 2;
    }
    if (5.0..95.0).contains(&r.f4) && matches!(r.f10, 0 | 1) && matches!(r.f11, 0 | 1) && matches!(r.f17, 0 | 1 | 2 | 3 | 4) && matches!(r.f26, 0 | 2 | 3) {
        return 0;
    }
    if matches!(r.f10, 0 | 1) && matches!(r.f11, 0 | 1) && matches!(r.f13, 0 | 2 | 3 | 4) && matches!(r.f14, 0 | 1) && matches!(r.f27, 1 | 2 | 3) {
        return 1;
    }
    if matches!(r.f10, 0 | 2) && matches!(r.f13, 0 | 1 | 2 | 3 | 5) && matches!(r.f14, 1 | 2) && matches!(r.f17, 2 | 3 | 4 | 5) && matches!(r.f26, 0 | 1 | 2 | 4) {
        return 1;
    }
    if matches!(r.f10, 0 | 2) && matches!(r.f11, 0 | 1 | 2) && matches!(r.f13, 0 | 1 | 2 | 4) && matches!(r.f14, 0 | 2) && matches!(r.f17, 0 | 1 | 3 | 4 | 5) {
        return 3;
    }
    if matches!(r.f10, 1 | 2) && matches!(r.f11, 2 | 3) && matches!(r.f13, 0 | 1 | 2 | 3) && matches!(r.f17, 1 | 2 | 3 | 4 | 5) && matches!(r.f27, 0 | 1 | 4) {
        return 4;
    }
    if r.f4 >= 25.0 && matches!(r.f11, 0 | 1) && matches!(r.f13, 0 | 1 | 2 | 5) && matches!(r.f17, 1 | 2 | 3 | 4) && matches!(r.f27, 0 | 3 | 4) {
        return 0;
    }
    1
}

fn t7(r: &Record) -> u8 {
    if (25.0..70.0).contains(&r.f7) && (10.0..90.0).contains(&r.f9) && matches!(r.f27, 0 | 1 | 2 | 4) && matches!(r.f28, 0 | 3 | 4) {
        return 2;
    }
    if matches!(r.f11, 2 | 3) && matches!(r.f12, 0 | 1 | 2 | 4) && matches!(r.f13, 0 | 1 | 2 | 4 | 5) && matches!(r.f17, 1 | 2 | 4 | 5) && matches!(r.f28, 0 | 1 | 2 | 3) {
        return 2;
    }
    if r.f9 >= 35.0 && matches!(r.f11, 0 | 2) && matches!(r.f17, 0 | 1 | 2 | 3) && matches!(r.f27, 0 | 2 | 3 | 4) && matches!(r.f28, 0 | 1 | 2 | 3) {
        return 1;
    }
    if r.f7 < 85.0 && matches!(r.f13, 1 | 2 | 3 | 4 | 5) && matches!(r.f17, 0 | 2 | 3 | 4) && matches!(r.f27, 0 | 2 | 3 | 4) && matches!(r.f28, 0 | 2 | 3 | 4) {
        return 2;
    }
    if (35.0..95.0).contains(&r.f7) && r.f9 < 95.0 && matches!(r.f11, 0 | 2 | 3) && matches!(r.f12, 0 | 1 | 3 | 4) && matches!(r.f17, 0 | 1 | 2 | 4 | 5) {
        return 3;
    }
    if r.f7 >= 10.0 && r.f9 >= 5.0 && matches!(r.f11, 1 | 2 | 3) && matches!(r.f17, 0 | 1 | 3 | 4 | 5) && matches!(r.f28, 0 | 1 | 2 | 3) {
        return 2;
    }
    if r.f7 >= 15.0 && matches!(r.f12, 0 | 1 | 4) && matches!(r.f13, 1 | 3 | 4 | 5) && matches!(r.f17, 0 | 2 | 4 | 5) {
        return 2;
    }
    if (20.0..95.0).contains(&r.f9) && matches!(r.f11, 0 | 2) && matches!(r.f12, 0 | 1 | 2 | 3) && matches!(r.f27, 0 | 1 | 2 | 4) && matches!(r.f28, 0 | 2 | 4) {
        return 3;
    }
    if (30.0..75.0).contains(&r.f7) && (30.0..75.0).contains(&r.f9) && matches!(r.f11, 1 | 3) && matches!(r.f27, 0 | 1 | 3) {
        return 3;
    }
    if (5.0..90.0).contains(&r.f7) && (25.0..65.0).contains(&r.f9) && matches!(r.f11, 0 | 2 | 3) && matches!(r.f17, 1 | 3 | 4 | 5) && matches!(r.f28, 1 | 2 | 4) {
        return 3;
    }
    if r.f9 < 95.0 && matches!(r.f11, 1 | 2 | 3) && matches!(r.f12, 0 | 2 | 3 | 4) && matches!(r.f13, 0 | 1 | 3 | 4 | 5) && matches!(r.f28, 0 | 1 | 2) {
        return 3;
    }
    if (10.0..80.0).contains(&r.f7) && (15.0..80.0).contains(&r.f9) && matches!(r.f12, 0 | 1 | 2 | 4) && matches!(r.f17, 0 | 1 | 2 | 3 | 4) && matches!(r.f27, 0 | 1 | 3 | 4) {
        return 4;
    }
    if r.f7 < 70.0 && r.f9 < 95.0 && matches!(r.f11, 0 | 1 | 2) && matches!(r.f17, 0 | 3 | 4 | 5) && matches!(r.f27, 0 | 1 | 3 | 4) {
        return 2;
    }
    if matches!(r.f12, 0 | 1 | 3) && matches!(r.f13, 0 | 1 | 2 | 4 | 5) && matches!(r.f17, 0 | 1 | 2 | 4 | 5) && matches!(r.f27, 0 | 1 | 2 | 3) && matches!(r.f28, 1 | 2 | 3 | 4) {
        return 2;
    }
    3
}

/// A record from plain numbers.
pub fn record(x: &[f64]) -> Record {
    Record {
        f0: x[0],
        f1: x[1],
        f2: x[2],
        f3: x[3],
        f4: x[4],
        f5: x[5],
        f6: x[6],
        f7: x[7],
        f8: x[8],
        f9: x[9],
        f10: x[10] as u8,
        f11: x[11] as u8,
        f12: x[12] as u8,
        f13: x[13] as u8,
        f14: x[14] as u8,
        f15: x[15] as u8,
        f16: x[16] as u8,
        f17: x[17] as u8,
        f18: x[18] as u8,
        f19: x[19] as u8,
        f20: x[20] as u8,
        f21: x[21] as u8,
        ..Record::default()
    }
}

/// The classes the tables gave.
pub fn classes(r: &Record) -> [u8; 8] {
    [r.f22, r.f23, r.f24, r.f25, r.f26, r.f27, r.f28, r.f29]
}
