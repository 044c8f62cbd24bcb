export { diffuseByLevel, diffuseFour } from './diffusion';
export { acrossFour, downFour, lighten } from './frame';
export { searchCount, searchOpen, searchRows, searchStore, searchTables, searchTake } from './search';
export { applyCurve, blendRow, countCodes, countTile, lookUp, sharpenCodes } from './tone';
