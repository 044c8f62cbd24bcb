import { createAlbum } from '../src/album/album.ts';
import { createDeveloper } from '../src/picture/develop.ts';
import { resolveLook } from '../src/picture/looks.ts';
import { createSlides, type Photo } from './photos.ts';
import { createVirtualRig, type VirtualRig, type VirtualRigOptions } from './rig.ts';
import { createScene, type SceneName } from './scene.ts';

export interface CameraRigOptions extends Omit<VirtualRigOptions, 'scene' | 'develop' | 'createAlbum'> {
  scene: SceneName;
  /** Shown to the lens instead of the scene. */
  photos: readonly Photo[];
}

export interface CameraRig {
  rig: VirtualRig;
  view: NonNullable<VirtualRigOptions['scene']>;
  /** The photos, to go on to the next one; null where the scene is shown. */
  slides: ReturnType<typeof createSlides> | null;
}

/** A virtual rig with the real picture pipeline and album, before a scene or photos. */
export const createCameraRig = ({ scene, photos, ...options }: CameraRigOptions): CameraRig => {
  const { config, profile, seed } = options;
  const developer = createDeveloper({
    picture: config.picture,
    look: resolveLook(config.picture),
    profile,
    cameraName: config.camera.name,
  });
  const slides = photos.length > 0 ? createSlides(photos, config.picture.aspect) : null;
  const view = slides ?? createScene(scene, seed);
  const rig = createVirtualRig({
    ...options,
    scene: view,
    develop: (frame, caption) => developer.develop(frame, caption),
    createAlbum: (disk, clock) => createAlbum({ disk, clock, config }),
  });
  return { rig, view, slides };
};
