import type { LinePicture, Mark, XY } from './line-picture.ts';
import { inShownUnit, shownUnit } from './shown-units.ts';

/** A chart in the units that were chosen; one that is no pressure or temperature is given back as it is. */
export function inShownUnits(picture: LinePicture): LinePicture {
  const { unit } = picture;
  if (shownUnit(unit) === unit) return picture;
  const shown = (y: number): number => inShownUnit(y, unit);
  const points = (given: readonly XY[]): XY[] => given.map(({ x, y }) => ({ x, y: shown(y) }));
  return {
    ...picture,
    unit: shownUnit(unit),
    leastSpan: shown(picture.leastSpan) - shown(0),
    series: picture.series.map((series) => ({ ...series, points: points(series.points), ...(series.floor !== undefined && { floor: points(series.floor) }) })),
    marks: picture.marks.map((mark): Mark => (mark.kind === 'limit' ? { ...mark, y: shown(mark.y) } : mark.kind === 'forecast' ? { ...mark, fromY: shown(mark.fromY), toY: shown(mark.toY) } : mark)),
  };
}
