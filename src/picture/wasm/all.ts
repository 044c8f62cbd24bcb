export { acrossFour, downFour, lighten } from './frame';
