//! The order in which things lie on the glass: rows from the top, each from left to right.

/// Numbers of the places in reading order: a new row begins where the next place lies more than half a size below the mean
/// of the row so far.
pub(super) fn reading_order(places: &[[f64; 2]], size: f64) -> Vec<usize> {
    let mut down: Vec<usize> = (0..places.len()).collect();
    down.sort_by(|&a, &b| places[a][1].total_cmp(&places[b][1]).then(a.cmp(&b)));
    let mut rows: Vec<Vec<usize>> = Vec::new();
    for i in down {
        let fits = rows.last().is_some_and(|row| {
            let mean = row.iter().map(|&k| places[k][1]).sum::<f64>() / row.len() as f64;
            places[i][1] - mean <= size / 2.0
        });
        match rows.last_mut() {
            Some(row) if fits => row.push(i),
            _ => rows.push(vec![i]),
        }
    }
    for row in &mut rows {
        row.sort_by(|&a, &b| places[a][0].total_cmp(&places[b][0]).then(a.cmp(&b)));
    }
    rows.concat()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn rows_that_stand_a_little_crooked_are_still_rows() {
        let places = [[80.0, 12.0], [10.0, 10.0], [45.0, 16.0], [11.0, 48.0], [79.0, 40.0]];
        assert_eq!(reading_order(&places, 25.0), [1, 2, 0, 3, 4]);
        assert!(reading_order(&[], 25.0).is_empty());
    }
}
